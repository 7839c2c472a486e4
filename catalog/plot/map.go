package plot

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// Map is the overview map in the units of its SVG's view box.
type Map struct {
	WidthPx, HeightPx float64
	Image             template.URL
	ImageX            float64
	ImageY            float64
	ImageW            float64
	ImageH            float64
	Routes            []MapLine
	Descents          []MapLine
	Steep             []MapLine // steep parts outside descents
	BarW              float64   // of the scale bar
	BarX, BarY        float64   // its left end
	BarText           string
}

type MapLine struct {
	D              string // path data
	Name           string
	Index          int // of the descent, from 0
	LabelX, LabelY float64
	No             int
	Worst          string // the answer, which sets the style of the line
	Question       bool   // its review is in question: the line has black edges
}

// MapSpace turns places into the map's units: longitude shrunk by the cosine
// of the middle latitude, north up. Longitudes are taken on the first place's
// side of the antimeridian.
type MapSpace struct {
	refLonDeg, westDeg, northDeg, perDegX, perDegY, height float64
}

func (m MapSpace) xy(lonDeg, latDeg float64) (x, y float64) {
	return (m.lon(lonDeg) - m.westDeg) * m.perDegX, (m.northDeg - latDeg) * m.perDegY
}

func (m MapSpace) lon(lonDeg float64) float64 {
	return m.refLonDeg + math.Remainder(lonDeg-m.refLonDeg, 360)
}

// MapRoute is a road to show on the map; only places of Line are used.
type MapRoute struct {
	ID, Name string
	Line     []catalog.Vertex
}

// MapContents is the content of a map.
type MapContents struct {
	Routes    []MapRoute
	Entries   []catalog.Entry
	Parts     []catalog.SteepPart
	Hillshade *Hillshade // may be nil
	Units     catalog.Units
}

// mapWidth is the width of the map's view box.
const mapWidth = 1000

// LayMap finds the bounding box of all content; nil where there is none.
func LayMap(r MapContents) (*Map, MapSpace, error) {
	var all []catalog.Vertex
	for _, x := range r.Routes {
		all = append(all, x.Line...)
	}
	for i := range r.Entries {
		all = append(all, r.Entries[i].Line...)
	}
	for i := range r.Parts {
		all = append(all, r.Parts[i].Line...)
	}
	if len(all) == 0 {
		return nil, MapSpace{}, nil
	}
	m := MapSpace{refLonDeg: all[0].LonDeg}
	w, e, s, n := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, v := range all {
		w, e = math.Min(w, m.lon(v.LonDeg)), math.Max(e, m.lon(v.LonDeg))
		s, n = math.Min(s, v.LatDeg), math.Max(n, v.LatDeg)
	}
	cos := math.Max(0.05, math.Cos((s+n)/2*math.Pi/180))
	// A margin, and never flatter than 2:1 nor taller than 1:1.2.
	wide, tall := math.Max((e-w)*cos, 1e-4)*1.12, math.Max(n-s, 1e-4)*1.12
	wide, tall = math.Max(wide, tall/1.2), math.Max(tall, wide/2)
	midLon, midLat := (w+e)/2, (s+n)/2
	k := mapWidth / wide
	m.perDegX, m.perDegY = k*cos, k
	m.westDeg, m.northDeg = midLon-wide/cos/2, midLat+tall/2
	m.height = math.Round(tall * k)
	p := &Map{WidthPx: mapWidth, HeightPx: m.height}
	if h := r.Hillshade; h != nil {
		if err := h.check(); err != nil {
			return nil, m, err
		}
		b, err := h.png()
		if err != nil {
			return nil, m, err
		}
		p.Image = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b))
		west := m.lon((h.WestDeg+h.EastDeg)/2) - (h.EastDeg-h.WestDeg)/2
		p.ImageX, p.ImageY = round1((west-m.westDeg)*m.perDegX), round1((m.northDeg-h.NorthDeg)*m.perDegY)
		p.ImageW, p.ImageH = round1((h.EastDeg-h.WestDeg)*m.perDegX), round1((h.NorthDeg-h.SouthDeg)*m.perDegY)
	}
	for _, x := range r.Routes {
		name := wording.Plain(x.Name)
		if name == "" {
			name = wording.Plain(x.ID)
		}
		p.Routes = append(p.Routes, MapLine{D: m.path(x.Line), Name: name})
	}
	for i := range r.Parts {
		p.Steep = append(p.Steep, MapLine{D: m.path(r.Parts[i].Line), Name: wording.PartTitle(&r.Parts[i]) + ": " + wording.SteepPart(&r.Parts[i].SteepPart, r.Units)})
	}
	for i := range r.Entries {
		ent := &r.Entries[i]
		l := MapLine{D: m.path(ent.Line), Name: wording.Title(&ent.Descent), Index: i, No: i + 1}
		if len(ent.Line) > 0 {
			x, y := m.xy(ent.Line[0].LonDeg, ent.Line[0].LatDeg)
			l.LabelX, l.LabelY = round1(x), round1(y)
		}
		p.Descents = append(p.Descents, l)
	}
	unit := wording.LengthUnit(r.Units)
	perUnit := k / 111320 * unit.Factor // map units to a mile or kilometre
	step := niceStep(mapWidth / 5 / perUnit)
	p.BarX, p.BarY = 18, p.HeightPx-28
	p.BarW, p.BarText = round1(step*perUnit), fmt.Sprintf("%g %s", step, unit.Name)
	return p, m, nil
}

// path writes a line as SVG path data.
func (m MapSpace) path(vs []catalog.Vertex) string {
	var b strings.Builder
	lastX, lastY := math.Inf(1), math.Inf(1)
	for i, v := range vs {
		x, y := m.xy(v.LonDeg, v.LatDeg)
		if i > 0 && i < len(vs)-1 && math.Hypot(x-lastX, y-lastY) < 0.7 {
			continue // finer than the map's resolution
		}
		lastX, lastY = x, y
		c := "L"
		if i == 0 {
			c = "M"
		}
		fmt.Fprintf(&b, "%s%g %g", c, round1(x), round1(y))
	}
	return b.String()
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }
