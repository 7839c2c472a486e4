package store

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"gradeline/catalog"
	"gradeline/catalog/compact"
	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// A descent's line is kept packed, with every vertex as it was given. The geometry that a
// GIS draws leaves out vertices that lie within these of the line through those kept,
// in plan and, at the same station, in height; never one at the extent's edge.
const (
	drawnPlanM   = 0.5
	drawnHeightM = 0.25
	lineMark     = 'l'
	lineLayout   = 1

	longestDegreeM = 111_694 // of latitude, at the poles; from memory
)

// packLine writes a line to the bit.
func packLine(line []catalog.Vertex) []byte {
	memory := lineMemory.Get().(*packingMemory)
	defer lineMemory.Put(memory)
	n := len(line)
	lon, lat, height, station := memory.columns(n)
	for i := range line {
		v := &line[i]
		lon[i], lat[i], height[i], station[i] = v.LonDeg, v.LatDeg, v.ElevationM, v.StationM
	}
	b := binary.AppendUvarint(append(memory.bytes[:0], lineMark, lineLayout), uint64(n))
	for _, column := range [][]float64{lon, lat, height, station} {
		b = compact.AppendFloats(b, column, nil)
	}
	memory.bytes = b
	return bytes.Clone(b)
}

// packingMemory is memory that is used again from one line to the next.
type packingMemory struct {
	figures []float64
	bytes   []byte
}

var lineMemory = sync.Pool{New: func() any { return &packingMemory{} }}

// columns are four columns of n figures each.
func (m *packingMemory) columns(n int) (lon, lat, height, station []float64) {
	m.figures = slices.Grow(m.figures[:0], 4*n)[:4*n]
	return m.figures[:n], m.figures[n : 2*n], m.figures[2*n : 3*n], m.figures[3*n:]
}

// unpackLine reads what packLine wrote; anything else is a fault.
func unpackLine(b []byte) ([]catalog.Vertex, error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "a stored line is damaged", Fix: "survey the route again"}
	if len(b) < 2 || b[0] != lineMark || b[1] != lineLayout {
		return nil, damaged
	}
	n, used := binary.Uvarint(b[2:])
	if used <= 0 || n > gpkg.MaxVertices || n > uint64(len(b))*64 {
		return nil, damaged
	}
	r := compact.NewReader(b[2+used:])
	memory := lineMemory.Get().(*packingMemory)
	defer lineMemory.Put(memory)
	lon, lat, height, station := memory.columns(int(n))
	for _, column := range [][]float64{lon, lat, height, station} {
		r.Floats(column, nil)
	}
	if r.Err() != nil || len(r.Rest()) > 0 {
		return nil, damaged
	}
	line := make([]catalog.Vertex, n)
	for i := range line {
		line[i] = catalog.Vertex{LonDeg: lon[i], LatDeg: lat[i], ElevationM: height[i], StationM: station[i]}
	}
	return line, nil
}

// drawn is the line that a GIS draws, by the method of Douglas and Peucker
// (Cartographica 10, 1973).
func drawn(line []catalog.Vertex) []catalog.Vertex {
	if len(line) < 3 {
		return line
	}
	t := thinner{line: line, keep: make([]bool, len(line))}
	flattest := math.Inf(1) // latitude, where a degree of longitude is longest
	for i, v := range line {
		if i > 0 && math.Abs(v.LonDeg-line[i-1].LonDeg) > 180 { // over the antimeridian
			return line
		}
		flattest = min(flattest, math.Abs(v.LatDeg))
	}
	t.mPerLonDeg = longestDegreeM * math.Cos(flattest*math.Pi/180)
	var edge [4]int // of the extent
	for i := range line {
		lon, lat := line[i].LonDeg, line[i].LatDeg
		switch {
		case lon < line[edge[0]].LonDeg:
			edge[0] = i
		case lon > line[edge[1]].LonDeg:
			edge[1] = i
		}
		switch {
		case lat < line[edge[2]].LatDeg:
			edge[2] = i
		case lat > line[edge[3]].LatDeg:
			edge[3] = i
		}
	}
	for _, i := range append(edge[:], 0, len(line)-1) {
		t.keep[i] = true
	}
	for from, to := 0, 1; to < len(line); to++ {
		if t.keep[to] {
			t.thin(from, to)
			from = to
		}
	}
	out := line[:0:0]
	for i, v := range line {
		if t.keep[i] {
			out = append(out, v)
		}
	}
	return out
}

type thinner struct {
	line       []catalog.Vertex
	keep       []bool
	mPerLonDeg float64
}

// thin keeps of the vertices between two that are kept those that are needed.
func (t *thinner) thin(from, to int) {
	for to-from > 1 {
		far, share := t.farthest(from, to)
		if share <= 1 {
			return
		}
		t.keep[far] = true
		t.thin(far, to)
		to = far
	}
}

// farthest is the vertex between two that is farthest from the line between them, in
// shares of what may be left out; one whose distance is not a number always counts.
func (t *thinner) farthest(from, to int) (far int, share float64) {
	a, b := t.line[from], &t.line[to]
	mPerLonDeg := t.mPerLonDeg
	dx, dy := (b.LonDeg-a.LonDeg)*mPerLonDeg, (b.LatDeg-a.LatDeg)*longestDegreeM
	span2 := math.Max(dx*dx+dy*dy, 1e-9)
	slope := (b.ElevationM - a.ElevationM) / (b.StationM - a.StationM)
	alongX, alongY := dx/span2, dy/span2
	between := t.line[from+1 : to]
	for i := range between { // most of the time of a line's packing: no calls
		v := &between[i]
		x, y := (v.LonDeg-a.LonDeg)*mPerLonDeg, (v.LatDeg-a.LatDeg)*longestDegreeM
		along := x*alongX + y*alongY
		if along < 0 {
			along = 0
		} else if along > 1 {
			along = 1
		}
		x, y = x-along*dx, y-along*dy
		high := v.ElevationM - a.ElevationM - slope*(v.StationM-a.StationM)
		plan2, high2 := (x*x+y*y)*(1/(drawnPlanM*drawnPlanM)), high*high*(1/(drawnHeightM*drawnHeightM))
		if plan2 <= share && high2 <= share {
			continue
		}
		if far, share = from+1+i, max(plan2, high2); math.IsNaN(share) {
			return far, math.Inf(1)
		}
	}
	return far, share
}
