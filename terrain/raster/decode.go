package raster

import (
	"fmt"
	"math"
	"sync"

	"github.com/airbusgeo/godal"
)

var maskBuffers sync.Pool

// decode reads a window of a tile as raw values, NaN where void.
func (s *Surface) decode(t *tile, buf []float32, c, r, w, h int64) error {
	if t.VRT { // its handles may share sources, which GDAL doesn't guard
		t.serial.Lock()
		defer t.serial.Unlock()
	}
	warn := func(m string) { s.warn.add(t.path, m) }
	hd, err := s.handles.take(t, warn)
	if err != nil {
		return err
	}
	defer s.handles.give(hd)
	log := godal.ErrLogger(collect(warn))
	if err := hd.band.Read(int(c), int(r), buf, int(w), int(h), log); err != nil {
		return err
	}
	if t.Mask == maskBand {
		p, _ := maskBuffers.Get().(*[]byte)
		if p == nil || cap(*p) < len(buf) {
			b := make([]byte, len(buf))
			p = &b
		}
		defer maskBuffers.Put(p)
		m := (*p)[:len(buf)]
		if err := hd.mask.Read(int(c), int(r), m, int(w), int(h), log); err != nil {
			return err
		}
		for i, v := range m {
			if v == 0 {
				buf[i] = nan32
			}
		}
	}
	for _, nd := range t.NoData {
		n := float32(nd)
		for i, v := range buf {
			if v == n {
				buf[i] = nan32
			}
		}
	}
	odd := nan32
	for i, v := range buf {
		if v < t.lo || v > t.hi {
			odd, buf[i] = v, nan32
		}
	}
	if odd == odd {
		if t.oddOnce.CompareAndSwap(false, true) && !math.IsInf(float64(odd), 0) {
			warn(fmt.Sprintf("holds values such as %g that are no height of ground (below %.0f or above %.0f m) and aren't declared as no-data; taken as voids",
				odd, lowestM, highestM))
		}
	}
	return nil
}
