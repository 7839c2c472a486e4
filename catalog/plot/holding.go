package plot

import (
	"fmt"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// Series is one curve of power at the wheels against road speed.
type Series struct {
	Label    string
	SpeedMPS []float64
	PowerW   []float64
}

// GearSeries is the power that the retarder can hold in one gear, less the reserve, over the speeds
// in the engine's retarding range.
type GearSeries struct {
	Gear     int
	Name     string // as on the lever or display; the number where empty
	SpeedMPS []float64
	PowerW   []float64
}

// HoldingView is the demand and the power that each gear can hold.
type HoldingView struct {
	Title      string
	Class      string
	MassKg     float64
	ReservePct float64
	Demand     []Series // at most four: they differ by dashes
	Gears      []GearSeries
	Answer     wording.Answer
	Gear       int     // advised; 0 where Answer is not Held
	GearName   string  // of the advised gear; the number where empty
	Levers     string  // the settings of the retarders, in words
	SpeedMPS   float64 // advised
	DemandW    float64 // at the advised speed
	Caption    []string
	Invented   bool
}

// HoldingSVG draws the demand and the power that each gear can hold, as SVG.
func HoldingSVG(w io.Writer, v HoldingView, u catalog.Units) error {
	f, err := holdingFigure(v, u)
	if err != nil {
		return err
	}
	return f.SVG(w)
}

// HoldingPNG draws the same as HoldingSVG, as a PNG of 200 dots an inch.
func HoldingPNG(w io.Writer, v HoldingView, u catalog.Units) error {
	f, err := holdingFigure(v, u)
	if err != nil {
		return err
	}
	return f.PNG(w)
}

// demandDashes distinguish the demand curves, which have one ink.
var demandDashes = [][]float64{nil, {7, 3}, {2, 2.5}, {9, 3, 2, 3}}

// gearName names a gear as on the lever, or by its number.
func gearName(name string, gear int) string {
	if name == "" {
		return fmt.Sprint(gear)
	}
	return name
}

func holdingFigure(v HoldingView, u catalog.Units) (Figure, error) {
	power := wording.PowerUnit(u)
	xHi, yHi, err := v.extent(u)
	if err != nil {
		return Figure{}, err
	}
	p := panel("Road speed, "+u.SpeedName(), "Power at the wheels, "+power.Name, [2]float64{0, xHi * 1.04}, [2]float64{0, yHi * 1.12})
	p.Add(grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) { v.paint(c, x, y, u) }))
	answer := "There is no advice for this class."
	switch v.Answer {
	case wording.Held:
		answer = fmt.Sprintf("Holds in gear %s at %s, %s.", gearName(v.GearName, v.Gear), u.Speed(v.SpeedMPS), v.Levers)
	case wording.NotHeld:
		answer = "NOT HELD: no gear holds on the retarder alone."
	}
	head := []string{v.Title, fmt.Sprintf("%s at %s. %s", wording.WithoutMass(v.Class), u.MassDown(v.MassKg), answer)}
	foot := []string{fmt.Sprintf("Grey curves: what the retarder can hold in each gear, marked at its end, less a reserve of %.0f %%. A gear holds where its curve is above the demand.", v.ReservePct)}
	return frame(head, v.Invented, []*plot.Plot{p}, []vg.Length{3.4 * vg.Inch}, keyOf(v.Demand), append(foot, v.Caption...)), nil
}

// extent is the highest speed and power of all curves, in the units of the axes.
func (v *HoldingView) extent(u catalog.Units) (xHi, yHi float64, err error) {
	if len(v.Demand) == 0 || len(v.Demand) > len(demandDashes) {
		return 0, 0, notDrawable(v.Title, fmt.Sprintf("a holding chart shows one to %d demand curves, not %d", len(demandDashes), len(v.Demand)))
	}
	grow := func(xs, ys []float64) {
		if err != nil {
			return
		}
		if len(xs) != len(ys) || len(xs) < 2 {
			err = notDrawable(v.Title, "a curve of the holding chart has fewer than two points")
			return
		}
		for i := range xs {
			if math.IsNaN(xs[i]+ys[i]) || math.IsInf(xs[i]+ys[i], 0) {
				err = notDrawable(v.Title, "a curve of the holding chart has a point that is not a number")
				return
			}
			xHi, yHi = math.Max(xHi, xs[i]/u.SpeedUnitMPS()), math.Max(yHi, ys[i]/wording.PowerUnit(u).Factor)
		}
	}
	for _, s := range v.Demand {
		grow(s.SpeedMPS, s.PowerW)
	}
	for _, g := range v.Gears {
		grow(g.SpeedMPS, g.PowerW)
	}
	return xHi, yHi, err
}

// paint draws the gears' curves, the demand and the advised point.
func (v *HoldingView) paint(c draw.Canvas, x, y func(float64) vg.Length, u catalog.Units) {
	power, label := wording.PowerUnit(u), typeface(9, false)
	scaled := func(xs, ys []float64) (a, b []float64) {
		for i := range xs {
			a, b = append(a, xs[i]/u.SpeedUnitMPS()), append(b, ys[i]/power.Factor)
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
	for _, g := range v.Gears { // on top, so that no curve crosses a number
		xs, ys := scaled(g.SpeedMPS, g.PowerW)
		n, s := len(xs)-1, gearName(g.Name, g.Gear)
		pt := vg.Point{X: x(xs[n]) - label.Width(s)/2, Y: y(ys[n]) + vg.Points(3)}
		c.FillPolygon(inkWhite, box(pt.X-1, pt.Y-1, pt.X+label.Width(s)+1, pt.Y+vg.Points(8)))
		c.FillText(label, pt, s)
	}
	if v.Answer == wording.Held {
		v.paintAdvice(c, x, y, u)
	}
}

// paintAdvice marks the advised gear and speed.
func (v *HoldingView) paintAdvice(c draw.Canvas, x, y func(float64) vg.Length, u catalog.Units) {
	bold := typeface(10, true)
	at := vg.Point{X: x(v.SpeedMPS / u.SpeedUnitMPS()), Y: y(v.DemandW / wording.PowerUnit(u).Factor)}
	c.StrokeLine2(stroke(inkBlack, 0.7, 3, 2), at.X, y(0), at.X, at.Y)
	c.DrawGlyph(draw.GlyphStyle{Color: inkBlack, Radius: vg.Points(4), Shape: draw.CircleGlyph{}}, at)
	s := fmt.Sprintf("gear %s, %s", gearName(v.GearName, v.Gear), u.Speed(v.SpeedMPS))
	pt := vg.Point{X: at.X + vg.Points(7), Y: at.Y - vg.Points(13)}
	if pt.X+bold.Width(s) > c.Max.X {
		pt.X = at.X - bold.Width(s) - vg.Points(7)
	}
	c.FillPolygon(inkWhite, box(pt.X-2, pt.Y-2, pt.X+bold.Width(s)+2, pt.Y+9))
	c.FillText(bold, pt, s)
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
