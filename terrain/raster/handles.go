package raster

import (
	"container/list"
	"sync"

	"github.com/airbusgeo/godal"

	_ "gradeline/terrain/cmemory" // godal stores pointers in memory of C.malloc
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

// acquire lends a handle of t, opening one if none is idle.
func (p *handlePool) acquire(t *tile, warn func(string)) (*handle, error) {
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

func (p *handlePool) release(h *handle) {
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
