package raster

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
)

// run is a stretch of points, positions lo to hi, whose taps lie in one block.
type run struct {
	key    uint64
	lo, hi int32
}

// tap is one value of a block that an edge point needs.
type tap struct {
	key       uint64
	edge, off int32
	slot      int8
}

// edge is a point whose taps come from several blocks: 4 by 4, base at (1, 1).
type edge struct {
	k    int32
	taps [16]float32
	from [16]int32 // tile from which the tap is read; -1 none, -2 unreadable
}

// group lists the runs and taps that need one block.
type group struct {
	key                        uint64
	runLo, runHi, tapLo, tapHi int
}

const (
	// parallelPoints is the least number of points worth a second goroutine.
	parallelPoints = 4096
	// remoteWorkers is the number of blocks of remote rasters that are read at once; there the
	// network sets the time, not the processor.
	remoteWorkers = 16
)

// readLayer reads one layer at the points in sc: it sets the state in sc.st and the height in sc.u.
func (s *Surface) readLayer(ctx context.Context, l *layer, sc *scratch) error {
	sc.runs, sc.taps, sc.edges = sc.runs[:0], sc.taps[:0], sc.edges[:0]
	s.locate(l, sc)
	if err := s.readGroups(ctx, l, sc); err != nil {
		return err
	}
	if l.overlaps {
		if err := s.fillFromOverlaps(ctx, l, sc); err != nil {
			return err
		}
	}
	for n := range sc.edges {
		e := &sc.edges[n]
		if slices.Contains(e.from[:], -2) {
			sc.st[e.k] = stUnreadable
			continue
		}
		_, fx := split(sc.u[e.k])
		_, fy := split(sc.v[e.k])
		l.setHeight(sc, e.k, interpolate(&e.taps, s.opts.Cubic, fx, fy))
	}
	return nil
}

// fillFromOverlaps reads taps that are void in the first tile from the other tiles that cover them.
func (s *Surface) fillFromOverlaps(ctx context.Context, l *layer, sc *scratch) error {
	sc.runs, sc.taps = sc.runs[:0], sc.taps[:0]
	for k := range sc.idx {
		if sc.st[k] == stVoid {
			l.addEdge(sc, int32(k), s.opts.Cubic)
		}
	}
	for {
		if err := s.readGroups(ctx, l, sc); err != nil {
			return err
		}
		sc.taps = sc.taps[:0]
		for n := range sc.edges {
			e := &sc.edges[n]
			i, _ := split(sc.u[e.k])
			j, _ := split(sc.v[e.k])
			for slot := range e.taps {
				if e.from[slot] < 0 || e.taps[slot] == e.taps[slot] {
					continue
				}
				x, y := i+int64(slot%4)-1, j+int64(slot/4)-1
				if t := l.tileAt(x, y, e.from[slot]); t != nil {
					l.ask(sc, t, int32(n), slot, x, y)
				}
			}
		}
		if len(sc.taps) == 0 {
			return nil
		}
	}
}

// setHeight sets the height of position k from the raw value z.
func (l *layer) setHeight(sc *scratch, k int32, z float64) {
	if z != z {
		sc.st[k] = stVoid
		return
	}
	sc.st[k], sc.u[k] = stHit, z*l.mul+l.add
}

// locate finds the block of each point: runs where all taps lie in it, else edges.
func (s *Surface) locate(l *layer, sc *scratch) {
	lo, hi := int64(0), int64(1)
	if s.opts.Cubic {
		lo, hi = -1, 2
	}
	var c0, r0, c1, r1 int64 // pixels of the last block that no earlier tile has
	var key uint64
	var id int16
	open := false
	for k := range sc.idx {
		u, v := sc.u[k], sc.v[k]
		sc.st[k] = stOutside
		if !(math.Abs(u) < 1e12 && math.Abs(v) < 1e12) {
			open = false
			continue
		}
		i, _ := split(u)
		j, _ := split(v)
		if i < c0 || i >= c1 || j < r0 || j >= r1 {
			open = false
			t := l.tileAt(i, j, -1)
			if t == nil {
				continue
			}
			key, id = t.key(i, j), int16(t.id)
			c, r, w, h := t.window(int64(uint32(key)))
			c0, r0 = max(t.col0+c, t.own[0]), max(t.row0+r, t.own[1])
			c1, r1 = min(t.col0+c+w, t.own[2]), min(t.row0+r+h, t.own[3])
		}
		sc.src[k] = id
		if i+lo < c0 || i+hi >= c1 || j+lo < r0 || j+hi >= r1 {
			open = false
			l.addEdge(sc, int32(k), s.opts.Cubic)
			continue
		}
		if open {
			sc.runs[len(sc.runs)-1].hi++
			continue
		}
		sc.runs = append(sc.runs, run{key, int32(k), int32(k) + 1})
		open = true
	}
}

// addEdge requests each tap of position k from the first tile that covers it. A tap that no tile
// covers makes the point outside.
func (l *layer) addEdge(sc *scratch, k int32, isCubic bool) {
	i, fx := split(sc.u[k])
	j, fy := split(sc.v[k])
	xlo, xhi := footprint(isCubic, fx)
	ylo, yhi := footprint(isCubic, fy)
	n, before := len(sc.edges), len(sc.taps)
	sc.edges = append(sc.edges, edge{k: k})
	e := &sc.edges[n]
	for slot := range e.taps {
		e.taps[slot], e.from[slot] = nan32, -1
	}
	for y := ylo; y <= yhi; y++ {
		for x := xlo; x <= xhi; x++ {
			t := l.tileAt(i+x, j+y, -1)
			if t == nil {
				sc.edges, sc.taps, sc.st[k] = sc.edges[:n], sc.taps[:before], stOutside
				return
			}
			l.ask(sc, t, int32(n), int((y+1)*4+x+1), i+x, j+y)
		}
	}
	sc.st[k] = stEdge
}

// ask records that a tap of edge n is to be read from pixel (x, y) of t.
func (l *layer) ask(sc *scratch, t *tile, n int32, slot int, x, y int64) {
	key := t.key(x, y)
	c, r, w, _ := t.window(int64(uint32(key)))
	sc.edges[n].from[slot] = t.id
	sc.taps = append(sc.taps, tap{key: key, edge: n, slot: int8(slot), off: int32((y-t.row0-r)*w + x - t.col0 - c)})
}

// readGroups decodes each block once and reads all its runs and taps.
func (s *Surface) readGroups(ctx context.Context, l *layer, sc *scratch) error {
	sc.groupByBlock()
	workers := s.opts.Workers
	switch {
	case l.remote:
		workers = max(workers, remoteWorkers)
	case len(sc.idx) < parallelPoints:
		workers = 1
	}
	workers = min(workers, len(sc.groups))
	var next atomic.Int64
	work := func() {
		for {
			n := int(next.Add(1)) - 1
			if n >= len(sc.groups) || ctx.Err() != nil {
				return
			}
			s.serve(l, &sc.groups[n], sc)
		}
	}
	if workers <= 1 {
		work()
		return ctx.Err()
	}
	var wg sync.WaitGroup
	for n := 1; n < workers && s.startHelper(l, &wg, work); n++ {
	}
	work()
	wg.Wait()
	return ctx.Err()
}

// startHelper runs work in another goroutine. All calls together have Options.Workers of them for local
// rasters: many calls at once need no more, and each holds a block in memory.
func (s *Surface) startHelper(l *layer, wg *sync.WaitGroup, work func()) bool {
	if l.remote {
		wg.Go(work)
		return true
	}
	select {
	case s.helpers <- struct{}{}:
	default:
		return false
	}
	wg.Go(func() {
		defer func() { <-s.helpers }()
		work()
	})
	return true
}

// groupByBlock sorts runs and taps by their block and groups those of one block.
func (sc *scratch) groupByBlock() {
	slices.SortFunc(sc.runs, func(a, b run) int {
		if c := cmp.Compare(a.key, b.key); c != 0 {
			return c
		}
		return cmp.Compare(a.lo, b.lo)
	})
	slices.SortFunc(sc.taps, func(a, b tap) int { return cmp.Compare(a.key, b.key) })
	sc.groups = sc.groups[:0]
	for r, t := 0, 0; r < len(sc.runs) || t < len(sc.taps); {
		g := group{key: math.MaxUint64, runLo: r, tapLo: t}
		if r < len(sc.runs) {
			g.key = sc.runs[r].key
		}
		if t < len(sc.taps) {
			g.key = min(g.key, sc.taps[t].key)
		}
		for r < len(sc.runs) && sc.runs[r].key == g.key {
			r++
		}
		for t < len(sc.taps) && sc.taps[t].key == g.key {
			t++
		}
		g.runHi, g.tapHi = r, t
		sc.groups = append(sc.groups, g)
	}
}

// serve reads one block and sets the heights of the points and taps in it.
func (s *Surface) serve(l *layer, g *group, sc *scratch) {
	t := s.tiles[g.key>>32]
	c, r, w, h := t.window(int64(uint32(g.key)))
	b := s.cache.acquire(g.key, int(w*h), func(buf []float32) error { return s.decode(t, buf, c, r, w, h) })
	defer s.cache.release(b)
	runs, taps := sc.runs[g.runLo:g.runHi], sc.taps[g.tapLo:g.tapHi]
	if b.err != nil {
		s.warn.add(t.path, fmt.Sprintf("block at column %d, row %d (%d x %d cells) could not be decoded: %s", c, r, w, h,
			strings.Join(strings.Fields(b.err.Error()), " ")))
		for _, rn := range runs {
			for k := rn.lo; k < rn.hi; k++ {
				sc.st[k] = stUnreadable
			}
		}
		for _, tp := range taps {
			sc.edges[tp.edge].from[tp.slot] = -2
		}
		return
	}
	data := sc.masked(l, b.data)
	for _, tp := range taps {
		sc.edges[tp.edge].taps[tp.slot] = data[tp.off]
	}
	c, r = c+t.col0, r+t.row0
	for _, rn := range runs {
		if s.opts.Cubic {
			l.cubicRun(sc, rn, data, c, r, w)
		} else {
			l.bilinearRun(sc, rn, data, c, r, w)
		}
	}
}
