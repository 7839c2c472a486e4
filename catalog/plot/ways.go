package plot

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// wayDashes distinguish ways on a map in black and grey.
var wayDashes = [][]float64{nil, {7, 3}, {2, 2}, {9, 3, 2, 3}, {4, 5}}

// mostDrawnWays is the number of ways with a profile on one drawing.
const mostDrawnWays = 8

// WaysFigure draws ways on a map with their profiles next to it, all at one scale, the best on top.
// Small print is below.
func WaysFigure(ways []WayView, u catalog.Units, foot []string) (Figure, error) {
	lo, hi, longestM := math.Inf(1), math.Inf(-1), 0.0
	var drawn []*WayView
	for i := range ways {
		a, b, isKnown := ways[i].heights()
		if !isKnown {
			continue
		}
		lo, hi, longestM = math.Min(lo, a), math.Max(hi, b), math.Max(longestM, ways[i].LengthM)
		if drawn = append(drawn, &ways[i]); len(drawn) == mostDrawnWays {
			break
		}
	}
	if len(drawn) == 0 {
		return Figure{}, &catalog.Fault{Kind: catalog.ErrImpossible, What: "none of the ways has a height", Fix: "use terrain that covers them"}
	}
	if len(drawn) < len(ways) {
		foot = append([]string{fmt.Sprintf("%d of %d ways are drawn: the best whose ground is known.", len(drawn), len(ways))}, foot...)
	}
	foot = append([]string{"Bars over a profile: its hills by number, black where one is not held or not known to be. Hatched: ground that is not known. On the map such hills are drawn thick."}, foot...)
	const width, mapWide, each = 10.5 * vg.Inch, 4.3 * vg.Inch, 1.55 * vg.Inch
	small := typeface(7.5, false)
	footTall := smallPrint(draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: width - vg.Points(16)}}}, small, foot, false)
	body := max(each*vg.Length(len(drawn)), mapWide*0.8)
	head := vg.Points(8)
	alt := "Map and profiles."
	isInvented := false
	for _, v := range drawn {
		alt += " " + v.alt(u)
		isInvented = isInvented || v.Invented
	}
	if isInvented {
		head = vg.Points(20)
		alt = wording.InventedBanner + " " + alt
	}
	total := head + body + footTall + vg.Points(12)
	return Figure{width, total, alt, func(c draw.Canvas) {
		c.FillPolygon(inkWhite, box(0, 0, width, total))
		in := draw.Crop(c, vg.Points(8), -vg.Points(8), vg.Points(4), -vg.Points(4))
		if isInvented {
			c.FillText(typeface(10, true), vg.Point{X: in.Min.X, Y: in.Max.Y - vg.Points(11)}, wording.InventedBanner)
		}
		at := in
		at.Max.Y -= head - vg.Points(4)
		at.Min.Y = at.Max.Y - body
		left, right := at, at
		left.Max.X = left.Min.X + mapWide
		right.Min.X = left.Max.X + vg.Points(10)
		paintWayMap(left, drawn, u)
		for i, v := range drawn {
			row := right
			row.Max.Y -= each * vg.Length(i)
			row.Min.Y = row.Max.Y - each
			c.FillText(typeface(9, true), vg.Point{X: row.Min.X + vg.Points(4), Y: row.Max.Y - vg.Points(10)}, v.title())
			c.StrokeLine2(stroke(inkBlack, 1.8, dashesOf(i)...), row.Max.X-vg.Points(44), row.Max.Y-vg.Points(7), row.Max.X-vg.Points(4), row.Max.Y-vg.Points(7))
			row.Max.Y -= vg.Points(14)
			v.panel(u, [2]float64{lo, hi}, longestM).Draw(row)
		}
		rest := in
		rest.Max.Y = at.Min.Y - vg.Points(2)
		smallPrint(rest, small, foot, true)
	}}, nil
}

func dashesOf(i int) []float64 { return wayDashes[i%len(wayDashes)] }

// paintWayMap draws the lines of ways, north up, at one scale.
func paintWayMap(c draw.Canvas, ways []*WayView, u catalog.Units) {
	c.StrokeLines(stroke(inkPale, 0.6), append(box(c.Min.X, c.Min.Y, c.Max.X, c.Max.Y), vg.Point{X: c.Min.X, Y: c.Min.Y}))
	s, isKnown := wayScale(c, ways)
	if !isKnown {
		return
	}
	for i := len(ways) - 1; i >= 0; i-- { // the best on top
		v := ways[i]
		for _, part := range s.parts(v.Line, math.Inf(-1), math.Inf(1)) {
			c.StrokeLines(stroke(inkWhite, 3.2), part)
			c.StrokeLines(stroke(inkBlack, 1.5, dashesOf(i)...), part)
		}
		for _, h := range v.Hills {
			if h.IsLoud {
				for _, part := range s.parts(v.Line, h.FromM, h.ToM) {
					c.StrokeLines(stroke(inkBlack, 4), part)
				}
			}
		}
	}
	label := typeface(10, true)
	for i, v := range ways {
		// Labels of ways with common ends are at different shares of the ways.
		at, ok := s.placeAt(v.Line, v.LengthM*(float64(i)+1)/float64(len(ways)+1))
		if !ok {
			continue
		}
		text := fmt.Sprint(max(v.No, 1))
		half := label.Width(text)/2 + vg.Points(3)
		c.FillPolygon(inkWhite, box(at.X-half, at.Y-vg.Points(7), at.X+half, at.Y+vg.Points(7)))
		c.StrokeLines(stroke(inkBlack, 0.8), append(box(at.X-half, at.Y-vg.Points(7), at.X+half, at.Y+vg.Points(7)), vg.Point{X: at.X - half, Y: at.Y - vg.Points(7)}))
		c.FillText(label, vg.Point{X: at.X - label.Width(text)/2, Y: at.Y - vg.Points(3.5)}, text)
	}
	far := wording.LengthUnit(u)
	step := niceStep(float64(c.Max.X-c.Min.X) / 4 / s.perM / far.Factor)
	bar := vg.Length(step * far.Factor * s.perM)
	x, y := c.Min.X+vg.Points(8), c.Min.Y+vg.Points(10)
	c.StrokeLine2(stroke(inkBlack, 2), x, y, x+bar, y)
	c.FillText(typeface(9, false), vg.Point{X: x, Y: y + vg.Points(3)}, fmt.Sprintf("%g %s, north up", step, far.Name))
}

// mapScale turns places into points of a canvas.
type mapScale struct {
	refLonDeg, midLonDeg, midLatDeg, cos, perM float64
	mid                                        vg.Point
}

// metresPerDegree of a meridian, on a sphere: precise enough for a map.
const metresPerDegree = 111320.0

// wayScale fits ways into a canvas.
func wayScale(c draw.Canvas, ways []*WayView) (mapScale, bool) {
	s := mapScale{refLonDeg: math.NaN(), mid: vg.Point{X: (c.Min.X + c.Max.X) / 2, Y: (c.Min.Y + c.Max.Y) / 2}}
	west, east, south, north := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, v := range ways {
		for _, x := range v.Line {
			if math.IsNaN(x.LonDeg) {
				continue
			}
			if math.IsNaN(s.refLonDeg) {
				s.refLonDeg = x.LonDeg
			}
			lon := s.lonDeg(x.LonDeg)
			west, east, south, north = math.Min(west, lon), math.Max(east, lon), math.Min(south, x.LatDeg), math.Max(north, x.LatDeg)
		}
	}
	if west > east {
		return s, false
	}
	s.midLonDeg, s.midLatDeg = (west+east)/2, (south+north)/2
	s.cos = math.Max(0.02, math.Cos(s.midLatDeg*math.Pi/180))
	wideM, tallM := math.Max((east-west)*s.cos, 1e-4)*metresPerDegree, math.Max(north-south, 1e-4)*metresPerDegree
	const room = 0.84
	s.perM = room * math.Min(float64(c.Max.X-c.Min.X)/wideM, float64(c.Max.Y-c.Min.Y)/tallM)
	return s, true
}

// lonDeg is a longitude on the same side of the antimeridian as the first place.
func (s *mapScale) lonDeg(lonDeg float64) float64 {
	return s.refLonDeg + math.Remainder(lonDeg-s.refLonDeg, 360)
}

func (s *mapScale) point(v *catalog.Vertex) vg.Point {
	return vg.Point{X: s.mid.X + vg.Length((s.lonDeg(v.LonDeg)-s.midLonDeg)*s.cos*metresPerDegree*s.perM),
		Y: s.mid.Y + vg.Length((v.LatDeg-s.midLatDeg)*metresPerDegree*s.perM)}
}

// parts are the unbroken pieces of a line between two stations.
func (s *mapScale) parts(line []catalog.Vertex, fromM, toM float64) [][]vg.Point {
	var out [][]vg.Point
	var open []vg.Point
	flush := func() {
		if len(open) > 1 {
			out = append(out, open)
		}
		open = nil
	}
	for i := range line {
		v := &line[i]
		if math.IsNaN(v.LonDeg) || v.StationM < fromM || v.StationM > toM {
			flush()
			continue
		}
		open = append(open, s.point(v))
	}
	flush()
	return out
}

// placeAt is the vertex nearest to a station.
func (s *mapScale) placeAt(line []catalog.Vertex, stationM float64) (vg.Point, bool) {
	best, nearest := -1, math.Inf(1)
	for i := range line {
		if d := math.Abs(line[i].StationM - stationM); !math.IsNaN(line[i].LonDeg) && d < nearest {
			best, nearest = i, d
		}
	}
	if best < 0 {
		return vg.Point{}, false
	}
	return s.point(&line[best]), true
}
