package export

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
)

// Series is one curve of power at the wheels against road speed.
type Series struct {
	Label    string
	SpeedMPS []float64
	PowerW   []float64
}

// GearSeries is what the retarder can hold in one gear, less the reserve, over
// the speeds that keep the engine inside its retarding range.
type GearSeries struct {
	Gear     int
	SpeedMPS []float64
	PowerW   []float64
}

// HoldingView is demand against what each gear can hold.
type HoldingView struct {
	Title      string
	Class      string
	MassKg     float64
	ReservePct float64
	Demand     []Series // at most four: they differ by dashes
	Gears      []GearSeries
	Answer     Answer
	Gear       int     // advised; 0 where Answer is not Held
	SpeedMPS   float64 // advised
	DemandW    float64 // at the advised speed
	Caption    []string
	Invented   bool
}

// HoldingSVG draws demand against what each gear can hold, as SVG.
func HoldingSVG(w io.Writer, v HoldingView, u catalog.Units) error {
	f, err := holdingFigure(v, u)
	if err != nil {
		return err
	}
	return f.svg(w)
}

// HoldingPNG draws what HoldingSVG does as a PNG of 200 dots an inch.
func HoldingPNG(w io.Writer, v HoldingView, u catalog.Units) error {
	f, err := holdingFigure(v, u)
	if err != nil {
		return err
	}
	return f.png(w)
}

// demandDashes tell the demand curves apart in one ink.
var demandDashes = [][]float64{nil, {7, 3}, {2, 2.5}, {9, 3, 2, 3}}

func holdingFigure(v HoldingView, u catalog.Units) (figure, error) {
	power := powerUnit(u)
	xHi, yHi := 0.0, 0.0
	grow := func(xs, ys []float64) error {
		if len(xs) != len(ys) || len(xs) < 2 {
			return notDrawable(v.Title, "a curve of the holding chart has no two points")
		}
		for i := range xs {
			if math.IsNaN(xs[i]+ys[i]) || math.IsInf(xs[i]+ys[i], 0) {
				return notDrawable(v.Title, "a curve of the holding chart has a point that is no number")
			}
			xHi, yHi = math.Max(xHi, xs[i]/u.SpeedUnitMPS()), math.Max(yHi, ys[i]/power.si)
		}
		return nil
	}
	if len(v.Demand) == 0 || len(v.Demand) > len(demandDashes) {
		return figure{}, notDrawable(v.Title, fmt.Sprintf("a holding chart shows one to %d demand curves, not %d", len(demandDashes), len(v.Demand)))
	}
	for _, s := range v.Demand {
		if err := grow(s.SpeedMPS, s.PowerW); err != nil {
			return figure{}, err
		}
	}
	for _, g := range v.Gears {
		if err := grow(g.SpeedMPS, g.PowerW); err != nil {
			return figure{}, err
		}
	}
	p := panel("Road speed, "+u.SpeedName(), "Power at the wheels, "+power.name, [2]float64{0, xHi * 1.04}, [2]float64{0, yHi * 1.12})
	label, bold := typeface(9, false), typeface(10, true)
	p.Add(grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		scaled := func(xs, ys []float64) (a, b []float64) {
			for i := range xs {
				a, b = append(a, xs[i]/u.SpeedUnitMPS()), append(b, ys[i]/power.si)
			}
			return a, b
		}
		for _, g := range v.Gears {
			xs, ys := scaled(g.SpeedMPS, g.PowerW)
			wide := 1.1
			if g.Gear == v.Gear {
				wide = 2.6
			}
			curve(c, stroke(inkMid, wide), xs, ys, x, y)
		}
		for i, d := range v.Demand {
			xs, ys := scaled(d.SpeedMPS, d.PowerW)
			curve(c, stroke(inkBlack, 1.6, demandDashes[i]...), xs, ys, x, y)
		}
		for _, g := range v.Gears { // on top, so that no curve strikes a number through
			xs, ys := scaled(g.SpeedMPS, g.PowerW)
			n, s := len(xs)-1, fmt.Sprint(g.Gear)
			pt := vg.Point{X: x(xs[n]) - label.Width(s)/2, Y: y(ys[n]) + vg.Points(3)}
			c.FillPolygon(inkWhite, box(pt.X-1, pt.Y-1, pt.X+label.Width(s)+1, pt.Y+vg.Points(8)))
			c.FillText(label, pt, s)
		}
		if v.Answer == Held {
			at := vg.Point{X: x(v.SpeedMPS / u.SpeedUnitMPS()), Y: y(v.DemandW / power.si)}
			c.StrokeLine2(stroke(inkBlack, 0.7, 3, 2), at.X, y(0), at.X, at.Y)
			c.DrawGlyph(draw.GlyphStyle{Color: inkBlack, Radius: vg.Points(4), Shape: draw.CircleGlyph{}}, at)
			s := fmt.Sprintf("gear %d, %s", v.Gear, u.Speed(v.SpeedMPS))
			pt := vg.Point{X: at.X + vg.Points(7), Y: at.Y - vg.Points(13)}
			if pt.X+bold.Width(s) > c.Max.X {
				pt.X = at.X - bold.Width(s) - vg.Points(7)
			}
			c.FillPolygon(inkWhite, box(pt.X-2, pt.Y-2, pt.X+bold.Width(s)+2, pt.Y+9))
			c.FillText(bold, pt, s)
		}
	}))
	answer := "No hold is known for this class."
	switch v.Answer {
	case Held:
		answer = fmt.Sprintf("Holds in gear %d at %s.", v.Gear, u.Speed(v.SpeedMPS))
	case NotHeld:
		answer = "NOT HELD: no gear holds on the retarder alone."
	}
	head := []string{v.Title, fmt.Sprintf("%s at %s. %s", WithoutMass(v.Class), u.MassDown(v.MassKg), answer)}
	foot := []string{fmt.Sprintf("Grey curves: what the retarder can hold in each gear, marked at its end, less a reserve of %.0f %%. A gear holds where its curve lies above the demand.", v.ReservePct)}
	return frame(head, v.Invented, []*plot.Plot{p}, []vg.Length{3.4 * vg.Inch}, keyOf(v.Demand), append(foot, v.Caption...)), nil
}

func keyOf(ds []Series) []keyLine {
	var out []keyLine
	for i, d := range ds {
		out = append(out, keyLine{stroke(inkBlack, 1.6, demandDashes[i]...), "Demand: " + d.Label})
	}
	return out
}

func notDrawable(title, what string) error {
	return &catalog.Fault{Kind: catalog.ErrImpossible, Feature: title, What: what, Fix: "compute the hold again"}
}

// HeatView is what the service brakes would come to along the hill if they did
// what the retarder does not.
type HeatView struct {
	Title       string
	Class       string
	DistanceM   []float64 // from the crest, in travel
	TempC       []float64 // the grade-severity structure
	BalanceC    []float64 // a heat balance from first principles, as a check; may be nil
	ForceShare  []float64 // share of the cold braking force that is left; may be nil
	LimitC      float64   // 0 where none is to be drawn
	LimitSource string
	Case        Both   // what the service brakes are taken to do
	Status      string // of the constants, shown with the curves
	Caption     []string
	Invented    bool
}

// HeatViewFor takes the heat along an entry from a hold of it.
func HeatViewFor(e *catalog.Entry, h *catalog.Hold) HeatView {
	v := HeatView{Title: Title(&e.Descent) + ", " + Heading(&e.Descent), Class: h.Class, Case: inBoth(h.HeatCaseIn), Invented: e.Provenance.Invented,
		Caption: []string{ReviewLine(e), SourceLine(e.Provenance), catalog.Cautions()[0]}}
	view := ProfileView{Direction: e.Descent.Direction, CrestM: e.Descent.StartM}
	for _, s := range h.Heat {
		v.DistanceM = append(v.DistanceM, view.DistanceM(s.StationM))
		v.TempC, v.BalanceC = append(v.TempC, s.TempC), append(v.BalanceC, s.BalanceC)
		v.ForceShare = append(v.ForceShare, s.ForceShare)
	}
	var says, all []string
	for _, s := range h.Statuses {
		all = append(all, s.Figure+" "+s.Status)
		if f := strings.ToLower(s.Figure); strings.Contains(f, "heat") || strings.Contains(f, "stroke") { // what the curves rest on
			says = append(says, s.Figure+" "+s.Status)
		}
	}
	if len(says) == 0 {
		says = all
	}
	if h.HeatFacts != nil {
		v.LimitC, v.LimitSource = h.HeatFacts.FadeFromC, "where poor linings fade (common practice)"
	}
	v.Status = strings.Join(says, "; ")
	return v
}

// HeatSVG draws the service brakes' heat along the hill, as SVG.
func HeatSVG(w io.Writer, v HeatView, u catalog.Units) error {
	f, err := heatFigure(v, u)
	if err != nil {
		return err
	}
	return f.svg(w)
}

// HeatPNG draws what HeatSVG does as a PNG of 200 dots an inch.
func HeatPNG(w io.Writer, v HeatView, u catalog.Units) error {
	f, err := heatFigure(v, u)
	if err != nil {
		return err
	}
	return f.png(w)
}

func heatFigure(v HeatView, u catalog.Units) (figure, error) {
	n := len(v.DistanceM)
	if n < 2 || len(v.TempC) != n || v.BalanceC != nil && len(v.BalanceC) != n || v.ForceShare != nil && len(v.ForceShare) != n {
		return figure{}, notDrawable(v.Title, "the heat along the hill has no two stations, or its series differ in length")
	}
	far := lengthUnit(u)
	degrees, sign := func(c float64) float64 { return c }, "°C"
	if u == catalog.US {
		degrees, sign = catalog.FFromC, "°F"
	}
	xs, temp, balance, share := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	hi := degrees(v.LimitC)
	for i := range xs {
		xs[i], temp[i], balance[i], share[i] = v.DistanceM[i]/far.si, degrees(v.TempC[i]), math.NaN(), math.NaN()
		if v.BalanceC != nil {
			balance[i] = degrees(v.BalanceC[i])
		}
		if v.ForceShare != nil {
			share[i] = 100 * v.ForceShare[i]
		}
		for _, t := range []float64{temp[i], balance[i]} {
			if !math.IsNaN(t) && !math.IsInf(t, 0) {
				hi = math.Max(hi, t)
			}
		}
	}
	if !(xs[n-1] > xs[0]) || !(hi > 0) {
		return figure{}, notDrawable(v.Title, "the heat along the hill does not run ahead from the crest, or has no temperature")
	}
	along := "Distance from the crest, in travel, " + far.name
	top := panel(along, "Service brakes, "+sign, [2]float64{xs[0], xs[n-1]}, [2]float64{0, hi * 1.1})
	key := []keyLine{{stroke(inkBlack, 1.8), "Grade-severity structure"}}
	top.Add(grid(top), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		if v.LimitC > 0 {
			c.StrokeLine2(stroke(inkBlack, 0.8, 1, 2), c.Min.X, y(degrees(v.LimitC)), c.Max.X, y(degrees(v.LimitC)))
		}
		curve(c, stroke(inkDark, 1.3, 6, 3), xs, balance, x, y)
		curve(c, stroke(inkBlack, 1.8), xs, temp, x, y)
	}))
	if v.BalanceC != nil {
		key = append(key, keyLine{stroke(inkDark, 1.3, 6, 3), "Heat balance, as a check"})
	}
	if v.LimitC > 0 {
		key = append(key, keyLine{stroke(inkBlack, 0.8, 1, 2), strings.TrimSpace(u.Temp(v.LimitC) + ": " + v.LimitSource)})
	}
	panels, heights := []*plot.Plot{top}, []vg.Length{2.6 * vg.Inch}
	if v.ForceShare != nil {
		top.X.Label.Text, top.X.Tick.Marker = "", plot.TickerFunc(unlabelled)
		low := panel(along, "Braking force left, %", [2]float64{xs[0], xs[n-1]}, [2]float64{0, 100})
		low.Add(grid(low), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
			curve(c, stroke(inkBlack, 1.8), xs, share, x, y)
		}))
		panels, heights = append(panels, low), append(heights, 1.6*vg.Inch)
	}
	status := v.Status
	if status == "" {
		status = "not stated"
	}
	what := v.Case.In(u)
	if what == "" {
		what = "if they did what the retarder does not"
	}
	head := []string{v.Title, v.Class + ": the service brakes, " + strings.TrimSuffix(what, ".") + ". Not advice: no hold drags them."}
	return frame(head, v.Invented, panels, heights, key, append([]string{"Status of the constants: " + status + "."}, v.Caption...)), nil
}
