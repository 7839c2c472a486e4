// Package plot draws profiles, holding charts, brake heat, recorded drives and maps.
//
// SVG and PNG are in black and greys only, so that a copy of a copy still reads.
// Series are in SI and in the order of travel; axes are in the units asked for.
// Bounds are drawn with what they bound, and what does not rest on measured ground is
// hatched and named. A series that cannot be drawn is a terrain.Fault. The same view
// gives the same bytes; all functions are safe for concurrent use.
package plot

import (
	"fmt"
	"io"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// ProfileSVG draws a profile as SVG: the ground and the grade line with its
// bound, the downgrade of every 100 m under it, what is not measured ground
// hatched and named, marks above. Drawn in black and greys.
func ProfileSVG(w io.Writer, v ProfileView, u catalog.Units) error {
	f, err := profileFigure(v, u, profilePage)
	if err != nil {
		return err
	}
	return f.SVG(w)
}

// ProfilePNG draws what ProfileSVG does as a PNG of 200 dots an inch.
func ProfilePNG(w io.Writer, v ProfileView, u catalog.Units) error {
	f, err := profileFigure(v, u, profilePage)
	if err != nil {
		return err
	}
	return f.PNG(w)
}

// profileSize says how large a profile is drawn and with what around it.
type profileSize struct {
	width, elevation, grade vg.Length
	bare                    bool // no title and no small print, for a page that has its own
}

var (
	profilePage  = profileSize{7.5 * vg.Inch, 2.4 * vg.Inch, 1.5 * vg.Inch, false}
	profileSheet = profileSize{7.5 * vg.Inch, 1.1 * vg.Inch, 1.05 * vg.Inch, true}
)

func profileFigure(v ProfileView, u catalog.Units, size profileSize) (Figure, error) {
	if err := v.check(); err != nil {
		return Figure{}, err
	}
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	n := len(v.StationM)
	xs, line, ground := make([]float64, n), make([]float64, n), make([]float64, n)
	yLo, yHi := math.Inf(1), math.Inf(-1)
	for i := range xs {
		xs[i] = v.DistanceM(v.StationM[i]) / far.Factor
		line[i], ground[i] = v.ElevationM[i]/high.Factor, math.NaN()
		if v.GroundM != nil {
			ground[i] = v.GroundM[i] / high.Factor
		}
		for _, y := range []float64{line[i], ground[i]} {
			if !math.IsNaN(y) {
				yLo, yHi = math.Min(yLo, y), math.Max(yHi, y)
			}
		}
	}
	if yLo > yHi {
		return Figure{}, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: v.Title, What: "no station of the profile has a height", Fix: "survey the route with terrain that covers it"}
	}
	pad := math.Max(0.06*(yHi-yLo), 5/high.Factor)
	top := panel("", labelUnit("Elevation", high.Name), [2]float64{xs[0], xs[n-1]}, [2]float64{yLo - pad, yHi + pad})
	top.X.Tick.Marker = plot.TickerFunc(unlabelled) // the panel below carries the numbers
	bars := v.GradeBars(v.barStepM())
	gLo, gHi := 0.0, 4.0
	for _, b := range bars {
		if !math.IsNaN(b.DowngradePct) {
			gLo, gHi = math.Min(gLo, math.Floor(b.DowngradePct)), math.Max(gHi, math.Ceil(b.DowngradePct+math.Max(0.2, b.errPct)))
		}
	}
	low := panel("Distance from the crest, in travel, "+far.Name, "Downgrade, %", [2]float64{xs[0], xs[n-1]}, [2]float64{gLo, gHi})
	if size.bare {
		top.Y.Tick.Marker, low.Y.Tick.Marker = plot.TickerFunc(fewTicks), plot.TickerFunc(fewTicks)
	}
	bound := v.Bound.ElevationM
	gaps := v.gaps()

	top.Add(gapShades(gaps, far.Factor), grid(top), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		if bound > 0 && !math.IsInf(bound, 0) {
			half := bound / high.Factor
			for i := 1; i < n; i++ {
				if a, b := line[i-1], line[i]; !math.IsNaN(a + b) {
					c.FillPolygon(inkPale, c.ClipPolygonXY([]vg.Point{{X: x(xs[i-1]), Y: y(a - half)}, {X: x(xs[i]), Y: y(b - half)},
						{X: x(xs[i]), Y: y(b + half)}, {X: x(xs[i-1]), Y: y(a + half)}}))
				}
			}
		}
		curve(c, stroke(inkDark, 0.9, 2, 1.6), xs, ground, x, y)
		curve(c, stroke(inkBlack, 1.8), xs, line, x, y)
	}))
	low.Add(gapShades(gaps, far.Factor), grid(low), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		for _, b := range bars {
			if math.IsNaN(b.DowngradePct) {
				continue
			}
			x0, x1 := x(b.FromM/far.Factor), x(b.ToM/far.Factor)
			y0, y1 := y(math.Min(0, b.DowngradePct)), y(math.Max(0, b.DowngradePct))
			fill := inkMid
			switch {
			case !b.Measured:
				fill = inkWhite
			case b.apart:
				fill = inkWash
			}
			c.FillPolygon(fill, box(x0, y0, x1, y1))
			if !b.Measured {
				hatch(c, stroke(inkMid, 0.5), x0, y0, x1, y1)
			}
			edge := append(box(x0, y0, x1, y1), vg.Point{X: x0, Y: y0})
			c.StrokeLines(stroke(inkBlack, 0.5), edge)
			if b.errPct > 0 {
				mid := (x0 + x1) / 2
				c.StrokeLine2(stroke(inkBlack, 0.7), mid, y(b.DowngradePct), mid, y(b.DowngradePct+b.errPct))
			}
		}
		c.StrokeLine2(stroke(inkBlack, 0.9), c.Min.X, y(0), c.Max.X, y(0))
	}))
	return v.compose(u, size, top, low), nil
}

// compose puts title, marks, panels, key and small print on one figure.
func (v *ProfileView) compose(u catalog.Units, size profileSize, top, low *plot.Plot) Figure {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	title, small, label := typeface(12, true), typeface(7.5, false), typeface(9, size.bare)
	inner := size.width - vg.Points(16)
	area := func(c draw.Canvas) draw.Canvas {
		return draw.Crop(c, vg.Points(8), -vg.Points(8), vg.Points(4), -vg.Points(4))
	}
	// Label rows depend on where the data lies, which the panels alone decide.
	leftTop, rightTop := dataMargins(top, inner)
	leftLow, rightLow := dataMargins(low, inner)
	left, right := vg.Points(8)+max(leftTop, leftLow), size.width-vg.Points(8)-max(rightTop, rightLow)
	toX := func(stationM float64) vg.Length {
		t := (v.DistanceM(stationM)/far.Factor - top.X.Min) / (top.X.Max - top.X.Min)
		return left + vg.Length(t)*(right-left)
	}
	var marks []placed
	for _, m := range v.Marks {
		x0, x1 := toX(m.FromM), toX(m.ToM)
		if x1 < left-0.5 || x0 > right+0.5 || math.IsNaN(float64(x0+x1)) {
			continue
		}
		marks = append(marks, placed{x0: max(left, x0), x1: min(right, x1), label: wording.Plain(m.Label.In(u))})
	}
	marks, rows := placeMarks(marks, label, left, right)
	rowHeight := vg.Points(15)
	key := v.key(u)
	var head, foot []string
	if v.Invented {
		head = append(head, wording.InventedBanner)
	}
	if !size.bare {
		head = append([]string{v.Title}, append(append(head, v.Subtitle.In(u)), v.Warnings...)...)
		foot = append([]string{key}, v.Caption...)
	} else {
		head, foot = nil, []string{key}
	}
	headHeight := vg.Points(3)
	for i := range head {
		headHeight += vg.Points([]float64{16, 13}[min(i, 1)])
	}
	footHeight := smallPrint(draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: inner, Y: 1000}}}, small, foot, false)
	panels := size.elevation + size.grade
	total := headHeight + vg.Length(rows)*rowHeight + panels + footHeight + vg.Points(14)

	return Figure{size.width, total, v.Alt(u), func(c draw.Canvas) {
		c.FillPolygon(inkWhite, box(0, 0, size.width, total))
		in := area(c)
		y := in.Max.Y
		for i, s := range head {
			sty := label
			if i == 0 {
				sty = title
			}
			y -= vg.Points([]float64{14, 12}[min(i, 1)])
			c.FillText(sty, vg.Point{X: in.Min.X, Y: y}, wording.Plain(s))
		}
		marksTop := in.Max.Y - headHeight
		body := in
		body.Max.Y = marksTop - vg.Length(rows)*rowHeight
		body.Min.Y = body.Max.Y - panels
		areas := stack(body, []*plot.Plot{top, low}, []vg.Length{size.elevation, size.grade})
		_, toY := top.Transforms(&areas[0])
		row := func(m placed) vg.Length { return body.Max.Y + vg.Length(m.row)*rowHeight + vg.Points(5) }
		for _, m := range marks { // leaders first, so that no leader strikes a label through
			yBar := row(m) - vg.Points(2.5)
			for _, x := range []vg.Length{m.x0, m.x1} {
				d := top.X.Min + float64((x-left)/(right-left))*(top.X.Max-top.X.Min)
				if e := v.HeightAt(d * far.Factor); !math.IsNaN(e) {
					c.StrokeLine2(stroke(inkDark, 0.6), x, yBar, x, toY(e/high.Factor))
				}
			}
		}
		for _, m := range marks {
			y := row(m)
			c.FillPolygon(inkWhite, box(m.textX-1.5, y-vg.Points(2), m.textX+label.Width(m.label)+1.5, y+vg.Points(8)))
			c.FillText(label, vg.Point{X: m.textX, Y: y}, m.label)
			c.StrokeLine2(stroke(inkBlack, 1.6), m.x0-vg.Points(1), y-vg.Points(2.5), m.x1+vg.Points(1), y-vg.Points(2.5))
		}
		for _, g := range v.gaps() {
			a, b := areas[0].X((g.fromM/far.Factor-top.X.Min)/(top.X.Max-top.X.Min)), areas[0].X((g.toM/far.Factor-top.X.Min)/(top.X.Max-top.X.Min))
			at := (max(a, areas[0].Min.X)+min(b, areas[0].Max.X))/2 - small.Width(g.label)/2
			pt := vg.Point{X: max(areas[0].Min.X+1, min(at, areas[0].Max.X-small.Width(g.label)-1)), Y: areas[0].Min.Y + vg.Points(3)}
			c.FillPolygon(inkWhite, box(pt.X-1, pt.Y-1.5, pt.X+small.Width(g.label)+1, pt.Y+vg.Points(6.5)))
			c.FillText(small, pt, g.label)
		}
		rest := in
		rest.Max.Y = body.Min.Y - vg.Points(2)
		smallPrint(rest, small, foot, true)
	}}
}

// key says what the lines and bars are, and how far they are sure.
func (v *ProfileView) key(u catalog.Units) string {
	s := "Heavy line: recovered grade line"
	if b := v.Bound.ElevationM; b > 0 && !math.IsInf(b, 0) {
		s += fmt.Sprintf(", on measured ground ± %s (95 %%)", u.Height(math.Max(b, wording.HeightUnit(u).Factor)))
	}
	if v.GroundM != nil {
		s += ". Broken line: ground"
	}
	stepM := v.barStepM()
	s += ". Bars: downgrade of every " + barWords(stepM)
	if v.ErrPct != nil {
		s += "; the thin line on a bar reaches to how steep it may be (95 %)"
	}
	s += ". Hatched: not on measured ground."
	if slices.ContainsFunc(v.GradeBars(stepM), func(b gradeBar) bool { return b.Measured && b.apart }) {
		s += " White bars: the ground lies further from the line than its bound; look whether a bridge, a tunnel or a dip is there."
	}
	return s
}

// Alt tells the figure in words.
func (v *ProfileView) Alt(u catalog.Units) string {
	s := "Profile of " + v.Title + ": " + v.Subtitle.In(u) + "."
	for _, t := range v.Warnings {
		s += " " + t
	}
	for _, m := range v.Marks {
		s += " " + m.Label.In(u) + "."
	}
	if v.Invented {
		s = wording.InventedBanner + " " + s
	}
	return s
}

// gapShades hatches what does not rest on measured ground.
func gapShades(gaps []gap, si float64) painter {
	return func(c draw.Canvas, x, _ func(float64) vg.Length) {
		for _, g := range gaps {
			x0, x1 := max(c.Min.X, x(g.fromM/si)), min(c.Max.X, x(g.toM/si))
			if x0 < x1 {
				hatch(c, stroke(inkPale, 0.6), x0, c.Min.Y, x1, c.Max.Y)
			}
		}
	}
}

// barWords writes a bar's length in both unit systems.
func barWords(stepM float64) string {
	if stepM < 1000 {
		return fmt.Sprintf("%.0f m (%s ft)", stepM, wording.Thousands(math.Round(catalog.FtFromM(stepM)/10)*10))
	}
	return fmt.Sprintf("%.0f km (%.1f mi)", stepM/1000, catalog.MiFromM(stepM))
}

// SheetProfile draws the low profile of the driver's page.
func SheetProfile(v ProfileView, u catalog.Units) (Figure, error) {
	return profileFigure(v, u, profileSheet)
}
