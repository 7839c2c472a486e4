package raster

import (
	"errors"
	"fmt"
	"math"
	"os"
	"sync"

	"github.com/airbusgeo/godal"
)

// tinyM is below any height: a smaller value counts as zero.
const tinyM = 1e-30

var maskBuffers, holeFinders sync.Pool

// mostSilent is how often in a row an address may fail to answer before the rest of the run skips
// it: our own choice.
const mostSilent = 2

var errSilent = errors.New("its address did not answer before and is not asked again")

// decode reads a window of a tile as raw values, NaN where void.
func (s *Surface) decode(t *tile, buf []float32, c, r, w, h int64) (err error) {
	if t.VRT { // its handles may share sources, which GDAL does not lock
		t.serial.Lock()
		defer t.serial.Unlock()
	}
	if isRemote(t.path) {
		if t.silent.Load() >= mostSilent {
			return errSilent
		}
		defer func() {
			if err != nil {
				t.silent.Add(1)
			} else {
				t.silent.Store(0)
			}
		}()
	}
	if t.isOther() {
		return errReplaced
	}
	done, err := s.readHGT(t, buf, c, r, w, h)
	if err == nil && !done {
		done, err = s.inflate(t, buf, c, r, w, h)
	}
	if err == nil && !done {
		err = s.decodeByGDAL(t, buf, c, r, w, h)
	}
	if err != nil || t.isClean(buf) {
		return err
	}
	s.voidOdd(t, buf, w)
	return nil
}

// voidOdd sets impossible heights to NaN: declared no-data values, heights that no ground has,
// holes that are filled with 0.
func (s *Surface) voidOdd(t *tile, buf []float32, w int64) {
	for _, nd := range t.NoData {
		if n := float32(nd); n >= t.lo && n <= t.hi { // values outside are found in the closer search
			voidValue(buf, n)
		}
	}
	zeros, top, odd := t.voidOutside(buf)
	if t.holeAbove > 0 && !s.opts.FlatIsGround && zeros >= leastHole && top > t.holeAbove {
		f, _ := holeFinders.Get().(*holeFinder)
		if f == nil {
			f = new(holeFinder)
		}
		if f.voidZeros(buf, w, t.holeAbove) > 0 {
			s.warn.add(t.path, zerosWarning(holeAboveFromCell(t.CellM)))
		}
		holeFinders.Put(f)
	}
	if odd == odd && t.oddOnce.CompareAndSwap(false, true) && !math.IsInf(float64(odd), 0) {
		s.warn.add(t.path, fmt.Sprintf("holds values such as %g that cannot be heights of ground (below %.0f or above %.0f m) and are not declared as no-data; treated as voids",
			odd, lowestM, highestM))
	}
}

// voidValue sets one value to NaN.
func voidValue(buf []float32, value float32) {
	for i, v := range buf {
		if v == value {
			buf[i] = nan32
		}
	}
}

// voidOutside sets heights that no ground has to NaN. It returns how many cells are zero,
// the highest height, and one of the values set that the file does not declare, else NaN.
func (t *tile) voidOutside(buf []float32) (zeros int, top, odd float32) {
	odd = nan32
	for i, v := range buf {
		if v > -tinyM && v < tinyM {
			buf[i], v = 0, 0
			zeros++
		} else if v > top && v <= t.hi {
			top = v
		}
		if !(v >= t.lo && v <= t.hi) {
			if v == v && !t.declares(v) {
				odd = v
			}
			buf[i] = nan32
		}
	}
	return zeros, top, odd
}

// decodeByGDAL reads a window through GDAL, NaN where its mask has a void.
func (s *Surface) decodeByGDAL(t *tile, buf []float32, c, r, w, h int64) error {
	warn := func(m string) { s.warn.add(t.path, m) }
	hd, err := s.handles.acquire(t, warn)
	if err != nil {
		return err
	}
	defer s.handles.release(hd)
	log, config := godal.ErrLogger(collect(warn)), godal.ConfigOption(t.readConfig...)
	if err := hd.band.Read(int(c), int(r), buf, int(w), int(h), log, config); err != nil {
		return err
	}
	s.voidUnstored(t, hd, buf, c, r, w, h)
	if t.Mask != maskNone {
		p, _ := maskBuffers.Get().(*[]byte)
		if p == nil || cap(*p) < len(buf) {
			b := make([]byte, len(buf))
			p = &b
		}
		defer maskBuffers.Put(p)
		m := (*p)[:len(buf)]
		if err := hd.mask.Read(int(c), int(r), m, int(w), int(h), log, config); err != nil {
			return err
		}
		for i, v := range m {
			if v == 0 {
				buf[i] = nan32
			}
		}
	}
	return nil
}

var errReplaced = errors.New("the file was changed or replaced after it was opened; run again")

// isOther reports whether the file has changed since its header was read.
func (t *tile) isOther() bool {
	if t.asOpened == nil {
		return false
	}
	st, err := os.Stat(t.path)
	return err == nil && !(os.SameFile(st, t.asOpened) && st.Size() == t.asOpened.Size() && st.ModTime().Equal(t.asOpened.ModTime()))
}

// declares reports whether v is a no-data value of the file.
func (t *tile) declares(v float32) bool {
	for _, nd := range t.NoData {
		if v == float32(nd) {
			return true
		}
	}
	return false
}
