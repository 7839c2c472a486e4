// Package plot draws profiles, holding charts, brake heat, recorded drives and maps.
//
// SVG and PNG are in black and greys only, so that even a copy of a copy is legible.
// Series are in SI and in the order of travel; axes are in the requested units. Bounds
// are drawn with their figures; stretches without measured ground are hatched and
// named. A series that cannot be drawn is a terrain.Fault. The same view gives the same
// bytes; all functions are safe for concurrent use.
package plot

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// ProfileSVG draws a profile as SVG: the ground and the grade line with its bound, the downgrade of
// every 100 m below, marks above. Stretches without measured ground are hatched and named. Drawn in
// black and greys.
func ProfileSVG(w io.Writer, v ProfileView, u catalog.Units) error {
	f, err := profileFigure(v, u, profilePage)
	if err != nil {
		return err
	}
	return f.SVG(w)
}

// ProfilePNG draws the same as ProfileSVG, as a PNG of 200 dots an inch.
func ProfilePNG(w io.Writer, v ProfileView, u catalog.Units) error {
	f, err := profileFigure(v, u, profilePage)
	if err != nil {
		return err
	}
	return f.PNG(w)
}

// profileSize is the size of a profile and of the text around it.
type profileSize struct {
	width, elevation, grade vg.Length
	bare                    bool // no title and no small print, for a page with its own
}

var (
	profilePage  = profileSize{7.5 * vg.Inch, 2.4 * vg.Inch, 1.5 * vg.Inch, false}
	profileTall  = profileSize{7.5 * vg.Inch, 1.6 * vg.Inch, 1.4 * vg.Inch, true}
	profileSheet = profileSize{7.5 * vg.Inch, 0.9 * vg.Inch, 1 * vg.Inch, true}
	profileLow   = profileSize{7.5 * vg.Inch, 0.85 * vg.Inch, 0, true} // heights alone
)

func profileFigure(v ProfileView, u catalog.Units, size profileSize) (Figure, error) {
	if err := v.check(); err != nil {
		return Figure{}, err
	}
	series, err := v.series(u)
	if err != nil {
		return Figure{}, err
	}
	l := &profileLayout{v: &v, u: u, size: size, panels: []*plot.Plot{series.elevationPanel(&v, u)}, heights: []vg.Length{size.elevation}}
	if size.grade > 0 {
		l.panels, l.heights = append(l.panels, v.gradePanel(series, u)), append(l.heights, size.grade)
		l.panels[0].X.Label.Text = ""
		l.panels[0].X.Tick.Marker = plot.TickerFunc(unlabelled) // the panel below carries the numbers
	}
	if size.bare {
		for i, p := range l.panels {
			p.Y.Tick.Marker = plot.TickerFunc(fewTicks)
			if size != profileTall && (size.grade == 0 || i > 0) { // the numbers along the road take height from the last panel
				p.Y.Tick.Marker = plot.TickerFunc(fewestTicks)
			}
		}
		l.panels[len(l.panels)-1].X.Tick.Marker = plot.TickerFunc(beforeTicks)
	}
	return l.figure(), nil
}

// profileSeries are a view's series in the units of the axes.
type profileSeries struct {
	x, line, ground []float64
	yLo, yHi        float64
}

// series converts a view's series; a missing height is NaN.
func (v *ProfileView) series(u catalog.Units) (profileSeries, error) {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	n := len(v.StationM)
	s := profileSeries{make([]float64, n), make([]float64, n), make([]float64, n), math.Inf(1), math.Inf(-1)}
	for i := range n {
		s.x[i] = v.DistanceM(v.StationM[i]) / far.Factor
		s.line[i], s.ground[i] = v.ElevationM[i]/high.Factor, v.groundAt(i)/high.Factor
		for _, y := range []float64{s.line[i], s.ground[i]} {
			if !math.IsNaN(y) {
				s.yLo, s.yHi = math.Min(s.yLo, y), math.Max(s.yHi, y)
			}
		}
	}
	if s.yLo > s.yHi {
		return s, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: v.Title, What: "no station of the profile has a height", Fix: "survey the route with terrain that covers it"}
	}
	return s, nil
}

// ends are the first and the last distance.
func (s *profileSeries) ends() [2]float64 { return [2]float64{s.x[0], s.x[len(s.x)-1]} }

// alongLabel names the axis of distances.
func alongLabel(u catalog.Units) string {
	return "Distance from the crest, in travel, " + wording.LengthUnit(u).Name
}

// elevationPanel draws the ground and the grade line with its bound.
func (s *profileSeries) elevationPanel(v *ProfileView, u catalog.Units) *plot.Plot {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	pad := math.Max(0.06*(s.yHi-s.yLo), 5/high.Factor)
	p := panel(alongLabel(u), labelUnit("Elevation", high.Name), s.ends(), [2]float64{s.yLo - pad, s.yHi + pad})
	bound := v.Bound.ElevationM
	p.Add(gapShades(v.gaps(), far.Factor), grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		if bound > 0 && !math.IsInf(bound, 0) {
			half := bound / high.Factor
			for i := 1; i < len(s.x); i++ {
				if a, b := s.line[i-1], s.line[i]; !math.IsNaN(a + b) {
					c.FillPolygon(inkPale, c.ClipPolygonXY([]vg.Point{{X: x(s.x[i-1]), Y: y(a - half)}, {X: x(s.x[i]), Y: y(b - half)},
						{X: x(s.x[i]), Y: y(b + half)}, {X: x(s.x[i-1]), Y: y(a + half)}}))
				}
			}
		}
		curve(c, stroke(inkDark, 0.9, 2, 1.6), s.x, s.ground, x, y)
		curve(c, stroke(inkBlack, 1.8), s.x, s.line, x, y)
	}))
	return p
}

// gradeRange is the range of an axis of downgrades that shows every bar and bound.
func gradeRange(bars []gradeBar) (lo, hi float64) {
	lo, hi = 0, 4
	for _, b := range bars {
		if !math.IsNaN(b.DowngradePct) {
			lo, hi = math.Min(lo, math.Floor(b.DowngradePct)), math.Max(hi, math.Ceil(b.DowngradePct+math.Max(0.2, b.errPct)))
		}
	}
	return lo, hi
}

// gradePanel draws the downgrade of every piece with its bound.
func (v *ProfileView) gradePanel(s profileSeries, u catalog.Units) *plot.Plot {
	far := wording.LengthUnit(u)
	bars := v.GradeBars(v.barStepM())
	lo, hi := gradeRange(bars)
	p := panel(alongLabel(u), "Downgrade, %", s.ends(), [2]float64{lo, hi})
	p.Add(gapShades(v.gaps(), far.Factor), grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		for _, b := range bars {
			if !math.IsNaN(b.DowngradePct) {
				paintBar(c, b, x(b.FromM/far.Factor), x(b.ToM/far.Factor), y)
			}
		}
		c.StrokeLine2(stroke(inkBlack, 0.9), c.Min.X, y(0), c.Max.X, y(0))
	}))
	return p
}

// paintBar draws one bar: hatched without measured ground, white where the ground is apart from the
// line, with a thin line up to the steep end of its bound.
func paintBar(c draw.Canvas, b gradeBar, x0, x1 vg.Length, y func(float64) vg.Length) {
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

// gapShades hatches stretches without measured ground.
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

// SheetHeight is how high the profile of the driver's page is.
type SheetHeight int

// Heights of the profile of the driver's page, the highest first.
const (
	SheetTall   SheetHeight = iota // where the page has room
	SheetMedium                    // both panels, lower
	SheetLow                       // without the downgrade of every piece
)

// SheetProfile draws the profile of the driver's page: without title, with places before the crest
// counted without a minus sign.
func SheetProfile(v ProfileView, u catalog.Units, height SheetHeight) (Figure, error) {
	return profileFigure(v, u, []profileSize{profileTall, profileSheet, profileLow}[height])
}

// beforeTicks are ticks of a distance from the crest in words: "0.5 before".
func beforeTicks(lo, hi float64) []plot.Tick {
	out := ticks(lo, hi)
	for i := range out {
		if s, isBefore := strings.CutPrefix(out[i].Label, "−"); isBefore {
			out[i].Label = s + " before"
		}
	}
	return out
}
