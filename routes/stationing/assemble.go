package stationing

import (
	"fmt"
	"math"
	"path/filepath"
	"sort"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

const (
	meetM     = 1.0   // ends this close meet
	repeatM   = 0.001 // vertices this close are one
	maxRouteM = 20e6  // half the circumference of the Earth: no road is longer
	maxLatDeg = 89.0  // beyond it, east and north lose their meaning
)

// Assemble makes routes of features. Features that share a route property and meet end to end
// within a metre become one route, whatever their order in the file; so do the parts of one
// multi-part feature. The route runs in the direction of its first feature in the file; pieces
// drawn in the other direction are turned, with their tags. Any other feature is a route of its
// own, named by its name, its ref, or its file and number.
//
// Routes are in the order of their first feature. The notes name features that made no route, and
// gaps within a route property.
func Assemble(features []routes.Feature) ([]routes.Route, []routes.Skipped) {
	var a Assembler
	var out []routes.Route
	for _, f := range features {
		out = append(out, a.Add(f)...)
	}
	out = append(out, a.Finish()...)
	return out, a.Skipped()
}

// Assembler is Assemble for a stream: features without a route property are returned at once; the
// others are kept until Finish.
type Assembler struct {
	alone   []piece            // parts of the last feature
	grouped map[string][]piece // by route property
	order   []string           // the route properties, in order of arrival
	ids     uniqueNames
	titles  uniqueNames
	skipped []routes.Skipped
	count   int
}

// piece is a feature on its way into a route.
type piece struct {
	routes.Feature
	index int // order of arrival
}

// Add takes a feature and returns the routes that it completes.
func (a *Assembler) Add(f routes.Feature) []routes.Route {
	a.count++
	if why := notARoad(f); why != "" {
		a.skip(where(f), why)
		return nil
	}
	p := piece{Feature: f, index: a.count}
	if key := strings.TrimSpace(f.Tags["route"]); key != "" {
		if a.grouped == nil {
			a.grouped = map[string][]piece{}
		}
		if _, ok := a.grouped[key]; !ok {
			a.order = append(a.order, key)
		}
		a.grouped[key] = append(a.grouped[key], p)
		return nil
	}
	var out []routes.Route
	if len(a.alone) > 0 && a.alone[0].Place != f.Place {
		out = a.flush()
	}
	a.alone = append(a.alone, p)
	return out
}

// Finish returns the routes that were waiting for more of their features.
func (a *Assembler) Finish() []routes.Route {
	out := a.flush()
	for _, key := range a.order {
		out = append(out, a.build(a.grouped[key], key, key)...)
	}
	a.grouped, a.order = nil, nil
	return out
}

// Skipped returns the features that made no route so far, and the notes.
func (a *Assembler) Skipped() []routes.Skipped { return a.skipped }

func (a *Assembler) flush() []routes.Route {
	if len(a.alone) == 0 {
		return nil
	}
	f := a.alone[0]
	id := f.Tags["name"]
	if id == "" {
		id = f.Tags["ref"]
	}
	title := id
	if id == "" {
		file := strings.TrimSuffix(filepath.Base(f.Place.File), filepath.Ext(f.Place.File))
		id, title = fmt.Sprintf("%s#%d", file, f.Place.Feature), fmt.Sprintf("%s feature %d", file, f.Place.Feature)
	}
	out := a.build(a.alone, id, title)
	a.alone = nil
	return out
}

// build makes the routes of pieces that belong together. The second and later parts have their
// number in the id.
func (a *Assembler) build(pieces []piece, id, title string) []routes.Route {
	chains, notes := link(pieces)
	var out []routes.Route
	for _, c := range chains {
		r, more := assembleChain(pieces, c)
		for _, why := range more {
			a.skip(where(pieces[c[0].piece].Feature), why)
		}
		if r != nil {
			out = append(out, *r)
		}
	}
	for i := range out {
		r, part, words := &out[i], id, title
		if i > 0 {
			part, words = fmt.Sprintf("%s/%d", id, i+1), fmt.Sprintf("%s (part %d)", title, i+1)
		}
		r.ID = a.ids.unique(part)
		if t := a.titles.unique(words); t != r.ID {
			r.Title = t
		}
		if i > 0 {
			a.skip("route "+id, gapNote(&out[i-1], r, r.ID))
		}
	}
	for _, why := range notes {
		a.skip("route "+id, why)
	}
	return out
}

// gapNote says where two parts of a route are closest at their ends.
func gapNote(prev, next *routes.Route, name string) string {
	p, q := prev.Line[len(prev.Line)-1], next.Line[0]
	best := DistanceM(p, q)
	for _, pair := range [][2]orb.Point{{prev.Line[0], next.Line[0]}, {prev.Line[0], next.Line[len(next.Line)-1]}, {p, next.Line[len(next.Line)-1]}} {
		if d := DistanceM(pair[0], pair[1]); d < best {
			best, p, q = d, pair[0], pair[1]
		}
	}
	return fmt.Sprintf("its pieces do not meet: %.1f m from longitude %.6f, latitude %.6f to longitude %.6f, latitude %.6f; "+
		"the rest is the route %q", best, p[0], p[1], q[0], q[1], name)
}

// uniqueNames counts how often a name was requested.
type uniqueNames map[string]int

// unique returns a name, with the first free number appended if the name is taken.
func (u *uniqueNames) unique(name string) string {
	if *u == nil {
		*u = uniqueNames{}
	}
	used := *u
	used[name]++
	if used[name] == 1 {
		return name
	}
	for n := used[name]; ; n++ {
		s := fmt.Sprintf("%s (%d)", name, n)
		if used[s] == 0 {
			used[s]++
			return s
		}
	}
}

func (a *Assembler) skip(where, why string) {
	a.skipped = append(a.skipped, routes.Skipped{Where: where, Why: why})
}

func where(f routes.Feature) string {
	for _, k := range []string{"name", "ref", "route"} {
		if v := f.Tags[k]; v != "" {
			return f.Place.String() + " (" + v + ")"
		}
	}
	return f.Place.String()
}

// notARoad says why a feature is not a route by its tags; empty if it may be one.
func notARoad(f routes.Feature) string {
	switch {
	case strings.TrimSpace(f.Tags["highway"]) == "escape":
		return "an escape ramp (highway=escape), not a route to travel"
	case f.Tags["route"] == "ferry":
		return "a ferry (route=ferry), not a road"
	case len(f.Line) < 2:
		return "it has fewer than two vertices"
	}
	for i, p := range f.Line {
		if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
			return fmt.Sprintf("vertex %d is not a longitude and latitude", i+1)
		}
		if math.Abs(p[1]) > maxLatDeg {
			return fmt.Sprintf("vertex %d is within a degree of a pole, where no road is", i+1)
		}
	}
	return ""
}

// assembleChain makes one route of linked pieces; nil, with a note, if it has no length.
func assembleChain(pieces []piece, c []step) (*routes.Route, []string) {
	raw, first, last := joinLines(pieces, c)
	line, cleanNotes, cleanM := cleanLine(raw, first)
	if len(line) < 2 {
		return nil, append(cleanNotes, "all its vertices are at one place")
	}
	r := &routes.Route{Line: line, VertexM: stationsM(line), FeatureSpan: len(c), Place: pieces[c[0].piece].Place}
	r.LengthM = r.VertexM[len(line)-1]
	if r.LengthM > maxRouteM {
		return nil, append(cleanNotes, fmt.Sprintf("it is %.0f km long, longer than any road", r.LengthM/1000))
	}
	m := newStationMap(raw, cleanM(r.VertexM))
	r.Ways = waysOf(pieces, c, first, last, m)
	notes := attribute(r, pieces, c, first, last, m)
	return r, append(notes, cleanNotes...)
}

// joinLines strings the pieces' vertices together in the chain's sense. Piece
// k's vertices are first[k] to last[k].
func joinLines(pieces []piece, c []step) (raw orb.LineString, first, last []int) {
	for _, l := range c {
		line := pieces[l.piece].Line
		first = append(first, len(raw))
		for i := range line {
			if l.turned {
				raw = append(raw, line[len(line)-1-i])
			} else {
				raw = append(raw, line[i])
			}
		}
		last = append(last, len(raw)-1)
	}
	return raw, first, last
}

// stationMap turns stations along the vertices as drawn into stations of the
// cleaned line.
type stationMap struct{ rawM, cleanM []float64 }

func newStationMap(raw orb.LineString, cleanM []float64) stationMap {
	return stationMap{stationsM(raw), cleanM}
}

// cleanFromRawM is the station on the cleaned line of one on the raw line.
func (m stationMap) cleanFromRawM(rawM float64) float64 {
	i := sort.SearchFloat64s(m.rawM, rawM)
	switch {
	case i == 0:
		return m.cleanM[0]
	case i == len(m.rawM):
		return m.cleanM[i-1]
	}
	w := m.rawM[i] - m.rawM[i-1]
	if w <= 0 {
		return m.cleanM[i]
	}
	return m.cleanM[i-1] + (m.cleanM[i]-m.cleanM[i-1])*(rawM-m.rawM[i-1])/w
}
