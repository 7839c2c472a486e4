package raster

import (
	"container/list"
	"errors"
	"fmt"
	"math"
	"sync"

	"github.com/airbusgeo/godal"
)

// maxHandles caps the datasets open at once over all goroutines.
const maxHandles = 64

// handle is one open dataset; only one goroutine uses it at a time.
type handle struct {
	tile *tile
	ds   *godal.Dataset
	band godal.Band
	mask godal.Band
	elem *list.Element
}

// handlePool lends handles. Idle ones stay open, the least recently used is closed
// when the cap is reached.
type handlePool struct {
	slots chan struct{}

	mu   sync.Mutex
	idle map[*tile][]*handle
	lru  *list.List // idle handles, front is the latest
	open int
}

func newHandlePool() *handlePool {
	return &handlePool{slots: make(chan struct{}, maxHandles), idle: map[*tile][]*handle{}, lru: list.New()}
}

// take lends a handle of t, opening one if none is idle.
func (p *handlePool) take(t *tile, warn func(string)) (*handle, error) {
	p.slots <- struct{}{}
	p.mu.Lock()
	if hs := p.idle[t]; len(hs) > 0 {
		h := hs[len(hs)-1]
		p.dropIdle(h)
		p.mu.Unlock()
		return h, nil
	}
	var old *handle
	if p.open >= maxHandles {
		old = p.lru.Back().Value.(*handle) // there is one: at most maxHandles-1 others are lent
		p.dropIdle(old)
	} else {
		p.open++
	}
	p.mu.Unlock()
	if old != nil {
		old.ds.Close()
	}
	config := openConfig
	if len(t.readConfig) > 0 {
		config = t.readConfig
	}
	ds, err := openDataset(t.path, t.VRT, config, warn)
	if err != nil {
		p.mu.Lock()
		p.open--
		p.mu.Unlock()
		<-p.slots
		return nil, err
	}
	bands := ds.Bands()
	h := &handle{tile: t, ds: ds, band: bands[0]}
	switch t.Mask {
	case maskBand:
		h.mask = h.band.MaskBand()
	case maskAlpha:
		h.mask = bands[len(bands)-1]
	}
	return h, nil
}

// dropIdle takes h off the idle lists.
func (p *handlePool) dropIdle(h *handle) {
	p.lru.Remove(h.elem)
	hs := p.idle[h.tile]
	for i := range hs {
		if hs[i] == h {
			hs[i] = hs[len(hs)-1]
			hs = hs[:len(hs)-1]
			break
		}
	}
	if len(hs) == 0 {
		delete(p.idle, h.tile)
	} else {
		p.idle[h.tile] = hs
	}
}

func (p *handlePool) give(h *handle) {
	p.mu.Lock()
	h.elem = p.lru.PushFront(h)
	p.idle[h.tile] = append(p.idle[h.tile], h)
	p.mu.Unlock()
	<-p.slots
}

// close closes every idle handle and reports the first failure.
func (p *handlePool) close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	var first error
	for e := p.lru.Front(); e != nil; e = e.Next() {
		if err := e.Value.(*handle).ds.Close(); err != nil && first == nil {
			first = err
		}
		p.open--
	}
	p.lru.Init()
	p.idle = map[*tile][]*handle{}
	return first
}

var maskBuffers, holeFinders sync.Pool

// mostSilent is how often in a row an address may fail to answer before it is given
// up for the rest of the run: our own choice.
const mostSilent = 2

var errSilent = errors.New("its address did not answer before and is not asked again")

// decode reads a window of a tile as raw values, NaN where void.
func (s *Surface) decode(t *tile, buf []float32, c, r, w, h int64) (err error) {
	if t.VRT { // its handles may share sources, which GDAL doesn't guard
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
	warn := func(m string) { s.warn.add(t.path, m) }
	hd, err := s.handles.take(t, warn)
	if err != nil {
		return err
	}
	defer s.handles.give(hd)
	log, config := godal.ErrLogger(collect(warn)), godal.ConfigOption(t.readConfig...)
	if err := hd.band.Read(int(c), int(r), buf, int(w), int(h), log, config); err != nil {
		return err
	}
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
	if t.isClean(buf) {
		return nil
	}
	for _, nd := range t.NoData {
		if n := float32(nd); n >= t.lo && n <= t.hi { // those outside fall to the next loop
			for i, v := range buf {
				if v == n {
					buf[i] = nan32
				}
			}
		}
	}
	odd := nan32
	zeros, top := 0, float32(0)
	for i, v := range buf {
		if v == 0 {
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
	if t.holeAbove > 0 && zeros >= leastHole && top > t.holeAbove {
		f, _ := holeFinders.Get().(*holeFinder)
		if f == nil {
			f = new(holeFinder)
		}
		if f.voidZeros(buf, w, t.holeAbove) > 0 {
			warn(zerosWarning(holeAboveFromCell(t.CellM)))
		}
		holeFinders.Put(f)
	}
	if odd == odd {
		if t.oddOnce.CompareAndSwap(false, true) && !math.IsInf(float64(odd), 0) {
			warn(fmt.Sprintf("holds values such as %g that are no height of ground (below %.0f or above %.0f m) and aren't declared as no-data; taken as voids",
				odd, lowestM, highestM))
		}
	}
	return nil
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
