package vector

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// emitter checks lines and passes them on, and keeps a list of the skipped features.
type emitter struct {
	file    string
	fn      func(routes.Feature) error
	lines   int
	skipped skipLog
}

func (e *emitter) skip(feature int, name, why string) {
	where := routes.Place{File: e.file, Feature: feature}.String()
	if name != "" {
		where += " (" + name + ")"
	}
	e.skipped.add(where, why)
}

// feature passes on the lines of the feature that rd has just read.
func (e *emitter) feature(rd *reader) error {
	n, name := rd.feature, rd.props.name()
	if rd.others != (kinds{}) {
		e.skip(n, name, rd.others.String())
	} else if len(rd.parts) == 0 {
		e.skip(n, name, "it has no geometry")
	}
	lines := 0
	for _, p := range rd.parts {
		if p.bad == "" && p.to > p.from {
			lines++
		}
	}
	tags, structures, notes := rd.props.result(lines > 1)
	for _, why := range notes {
		e.skip(n, name, why)
	}
	for i, p := range rd.parts {
		pts := rd.pts.pts[p.from:p.to]
		bad := p.bad
		if bad == "" {
			bad = checkLine(pts)
		}
		if bad != "" {
			if len(rd.parts) > 1 {
				bad = fmt.Sprintf("part %d of %d: %s", i+1, len(rd.parts), bad)
			}
			e.skip(n, name, bad)
			continue
		}
		e.lines++
		line := make(orb.LineString, len(pts))
		copy(line, pts)
		err := e.fn(withOtherTags(routes.Feature{Line: line, Tags: tags, Structures: structures,
			Place: routes.Place{File: e.file, Feature: n}}))
		if err != nil {
			return err
		}
	}
	return nil
}

// finish is the fault of a file without a single line.
func (e *emitter) finish() error {
	if e.lines > 0 {
		return nil
	}
	f := &routes.Fault{Kind: terrain.ErrInput, File: e.file, What: "there is no road line in it",
		Fix: "use LineString features in longitude, latitude"}
	if l := e.skipped.list(); len(l) > 0 {
		f.What += "; first: " + l[0].Where + ": " + l[0].Why
	}
	return f
}

// checkLine says why vertices are not a line; empty if they are. Longitudes up to
// a full turn beyond ±180 are turned back in place, which changes no position.
func checkLine(pts []orb.Point) string {
	if len(pts) == 0 {
		return "it has no vertices"
	}
	if len(pts) == 1 {
		return "it has one vertex only"
	}
	for i := range pts {
		lon, lat := pts[i][0], pts[i][1]
		alon, alat := math.Abs(lon), math.Abs(lat)
		if alon <= 180 && alat <= 90 {
			continue
		}
		v := fmt.Sprintf("vertex %d: ", i+1)
		switch {
		case math.IsNaN(lon) || math.IsNaN(lat):
			return v + "a coordinate is missing or not a number"
		case alon <= 90 && alat <= 360:
			return v + fmt.Sprintf("latitude %.6g is beyond ±90; are longitude and latitude swapped?", lat)
		case alon <= 360 && alat <= 90:
			pts[i][0] = math.Remainder(lon, 360)
		default:
			return v + fmt.Sprintf("%.10g, %.10g are not a longitude and latitude;  "+
				"GeoJSON needs WGS 84 degrees, so reproject it (ogr2ogr -t_srs EPSG:4326)", lon, lat)
		}
	}
	return ""
}

// skipLog lists the first skipped features of a kind and counts the rest, so that a file of a
// million points does not fill the memory.
type skipLog struct {
	items []routes.Skipped
	more  map[string]*rest
	order []string
	seen  map[string]int
}

type rest struct {
	count int
	last  string
}

const (
	skipsOfAKind = 20
	kindsOfSkips = 200
)

func (l *skipLog) add(where, why string) {
	kind := why
	if len(l.seen) >= kindsOfSkips && l.seen[kind] == 0 {
		kind = "various reasons"
	}
	if l.seen == nil {
		l.seen = map[string]int{}
		l.more = map[string]*rest{}
	}
	if l.seen[kind]++; l.seen[kind] <= skipsOfAKind {
		l.items = append(l.items, routes.Skipped{Where: where, Why: why})
		return
	}
	r := l.more[kind]
	if r == nil {
		r = &rest{}
		l.more[kind] = r
		l.order = append(l.order, kind)
	}
	r.count++
	r.last = where
}

// list returns the items in file order, then the sums.
func (l *skipLog) list() []routes.Skipped {
	out := l.items[:len(l.items):len(l.items)]
	for _, kind := range l.order {
		r := l.more[kind]
		out = append(out, routes.Skipped{Where: fmt.Sprintf("%d more, the last %s", r.count, r.last), Why: kind})
	}
	return out
}
