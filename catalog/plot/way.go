package plot

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// WayView is a way in travel, with the hills and places on it. Stations ascend.
type WayView struct {
	No      int // 0: without a number
	Name    string
	Answer  string // in a word or two
	LengthM float64
	// Line has a NaN elevation where the height is not known, and a NaN longitude where
	// the line itself is broken.
	Line     []catalog.Vertex
	Hills    []WayHill
	Places   []WayPlace
	UnknownM [][2]float64 // stretches whose grade line is not reliable
	Invented bool
}

// WayHill is a descent on a way.
type WayHill struct {
	No         int
	FromM, ToM float64
	Says       string // the answer
	IsLoud     bool   // not held, or not known to be
}

// WayPlace is a place on a way, marked by a letter.
type WayPlace struct {
	Letter string
	AtM    float64
}

// title is "2. Lake road: held".
func (v *WayView) title() string {
	t := wording.Plain(v.Name)
	if v.No > 0 {
		t = fmt.Sprintf("%d. %s", v.No, t)
	}
	if v.Answer != "" {
		t += ": " + v.Answer
	}
	return t
}

// heights is the range of the heights that are known; false where none is.
func (v *WayView) heights() (lo, hi float64, isKnown bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, x := range v.Line {
		if !math.IsNaN(x.ElevationM) {
			lo, hi = math.Min(lo, x.ElevationM), math.Max(hi, x.ElevationM)
		}
	}
	return lo, hi, lo <= hi
}

// WayProfile draws the profile of a complete way: hills in grey with their numbers, those not held
// in black, unknown stretches hatched, places by their letters.
func WayProfile(v WayView, u catalog.Units) (Figure, error) {
	lo, hi, isKnown := v.heights()
	if !isKnown {
		return Figure{}, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: v.Name, What: "no station of the way has a height", Fix: "use terrain that covers it"}
	}
	const width, tall = 7.5 * vg.Inch, 1.7 * vg.Inch
	p := v.panel(u, [2]float64{lo, hi}, v.LengthM)
	head := vg.Points(16)
	return Figure{width, tall + head, v.alt(u), func(c draw.Canvas) {
		c.FillPolygon(inkWhite, box(0, 0, width, tall+head))
		c.FillText(typeface(9, false), vg.Point{X: vg.Points(8), Y: c.Max.Y - vg.Points(11)},
			"Numbers: hills. Letters: B brake check area, E escape ramp, C chain-up area, P pullout. Hatched: not known.")
		body := draw.Crop(c, vg.Points(4), -vg.Points(6), vg.Points(2), -head)
		p.Draw(body)
	}}, nil
}

// panel draws the profile over a range of heights and a length.
func (v *WayView) panel(u catalog.Units, heightsM [2]float64, lengthM float64) *plot.Plot {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	pad := math.Max(0.18*(heightsM[1]-heightsM[0]), 10)
	p := panel("Distance along the way, "+far.Name, labelUnit("Elevation", high.Name), [2]float64{0, lengthM / far.Factor}, [2]float64{(heightsM[0] - pad/3) / high.Factor, (heightsM[1] + pad) / high.Factor})
	p.Y.Tick.Marker = plot.TickerFunc(fewTicks)
	xs, ys := make([]float64, len(v.Line)), make([]float64, len(v.Line))
	for i, x := range v.Line {
		xs[i], ys[i] = x.StationM/far.Factor, x.ElevationM/high.Factor
	}
	p.Add(grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		for _, s := range v.UnknownM {
			hatch(c, stroke(inkPale, 0.6), max(c.Min.X, x(s[0]/far.Factor)), c.Min.Y, min(c.Max.X, x(s[1]/far.Factor)), c.Max.Y)
		}
		curve(c, stroke(inkBlack, 1.6), xs, ys, x, y)
		for i := range v.Hills {
			paintHill(c, &v.Hills[i], x(v.Hills[i].FromM/far.Factor), x(v.Hills[i].ToM/far.Factor))
		}
		for _, k := range v.Places {
			at := x(k.AtM / far.Factor)
			c.StrokeLine2(stroke(inkMid, 0.8, 1.5, 1.5), at, c.Min.Y, at, c.Max.Y-vg.Points(14))
			c.FillText(typeface(9, true), vg.Point{X: at - vg.Points(3), Y: c.Min.Y + vg.Points(2)}, k.Letter)
		}
	}))
	return p
}

// paintHill draws a hill's bracket and number over the line: a bar, black where it is
// not held.
func paintHill(c draw.Canvas, h *WayHill, x0, x1 vg.Length) {
	x1 = max(x1, x0+vg.Points(2))
	top := c.Max.Y - vg.Points(2)
	fill := inkPale
	if h.IsLoud {
		fill = inkBlack
	}
	c.FillPolygon(fill, box(x0, top-vg.Points(4), x1, top))
	c.StrokeLines(stroke(inkBlack, 0.5), append(box(x0, top-vg.Points(4), x1, top), vg.Point{X: x0, Y: top - vg.Points(4)}))
	label := typeface(9, true)
	text := fmt.Sprint(h.No)
	c.FillText(label, vg.Point{X: (x0+x1)/2 - label.Width(text)/2, Y: top - vg.Points(13)}, text)
}

// alt describes the profile in words.
func (v *WayView) alt(u catalog.Units) string {
	t := fmt.Sprintf("Profile of %s, %s long.", v.title(), u.Length(v.LengthM))
	for i := range v.Hills {
		h := &v.Hills[i]
		t += fmt.Sprintf(" Hill %d from %s to %s: %s.", h.No, u.Length(h.FromM), u.Length(h.ToM), h.Says)
	}
	if len(v.UnknownM) > 0 {
		t += fmt.Sprintf(" %s not known.", wording.Counted(len(v.UnknownM), "stretch"))
	}
	return t
}
