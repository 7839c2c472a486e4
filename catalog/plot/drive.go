package plot

import (
	"cmp"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// DriveView is a recorded drive along a descent, against the advised speed.
// Distances are from the crest in travel.
type DriveView struct {
	Profile   ProfileView  // of the descent, for the panel below
	LengthM   float64      // of the descent
	Says      wording.Both // summary of the drive, in one line
	DistanceM []float64
	SpeedMPS  []float64
	AfterGap  []bool       // no points between this one and the previous one
	SpeedAdv  wording.Both // the advised speed in words
	AdviceMPS float64      // 0 where there is none
	GearByM   float64
	Gear      string       // as on the lever or display
	OverM     [][2]float64 // stretches over the advised speed
	Marks     []DriveMark  // stops and the like
	Bars      []DriveBar
	Caption   []string
	Name      string      // of the drive in the key; empty for "Driven"
	Others    []DriveLine // earlier drives down the same hill, at most MostOthers
}

// DriveLine is the speed of another drive.
type DriveLine struct {
	Name      string
	DistanceM []float64
	SpeedMPS  []float64
	AfterGap  []bool
}

// MostOthers is the number of other drives that a plot can tell apart.
const MostOthers = 4

// otherStrokes tell other drives apart without colours.
var otherStrokes = [MostOthers]draw.LineStyle{stroke(inkMid, 1.2), stroke(inkMid, 1.2, 4, 2), stroke(inkMid, 1.2, 1.5, 1.5), stroke(inkMid, 1.2, 7, 2, 1.5, 2)}

// DriveMark is a place of the drive that the plot names.
type DriveMark struct {
	DistanceM float64
	Label     wording.Both
}

// DriveBar is what the driver did on some stretches: a row of bars at the foot of the speeds.
type DriveBar struct {
	Name   string
	SpansM [][2]float64
}

// barStrokes tell rows of bars apart without colours.
var barStrokes = [...]draw.LineStyle{stroke(inkBlack, 4), stroke(inkMid, 4), stroke(inkBlack, 4, 1.5, 1.5), stroke(inkMid, 4, 1, 2)}

// paintBars draws the rows of bars from the foot of a panel up.
func (v *DriveView) paintBars(c draw.Canvas, x func(float64) vg.Length, far float64) {
	for k, bar := range v.Bars {
		y := c.Min.Y + vg.Points(4) + vg.Length(k)*vg.Points(6)
		for _, s := range bar.SpansM {
			a, b := max(c.Min.X, x(s[0]/far)), min(c.Max.X, x(s[1]/far))
			if b < a {
				continue
			}
			c.StrokeLine2(barStrokes[k], a, y, max(b, a+0.8), y) // a short use shows too
		}
	}
}

// DriveSVG draws driven against advised speed over the profile, as SVG.
func DriveSVG(w io.Writer, v DriveView, u catalog.Units) error {
	f, err := driveFigure(&v, u)
	if err != nil {
		return err
	}
	return f.SVG(w)
}

// DrivePNG draws what DriveSVG does as a PNG of 200 dots an inch.
func DrivePNG(w io.Writer, v DriveView, u catalog.Units) error {
	f, err := driveFigure(&v, u)
	if err != nil {
		return err
	}
	return f.PNG(w)
}

// shownM is the stretch of the hill on the plot.
func (v *DriveView) shownM() (loM, hiM float64) {
	st := v.Profile.StationM
	first, last := v.Profile.DistanceM(st[0]), v.Profile.DistanceM(st[len(st)-1])
	for _, d := range v.DistanceM {
		first, last = math.Min(first, d), math.Max(last, d)
	}
	return math.Max(first, -1000), math.Min(last, v.LengthM+500)
}

func driveFigure(v *DriveView, u catalog.Units) (Figure, error) {
	n := len(v.DistanceM)
	if n < 2 || len(v.SpeedMPS) != n || v.AfterGap != nil && len(v.AfterGap) != n {
		return Figure{}, notDrawable(v.Profile.Title, "a drive of fewer than two points, or whose series differ in length, cannot be drawn")
	}
	if err := v.Profile.check(); err != nil {
		return Figure{}, err
	}
	loM, hiM := v.shownM()
	speed, err := v.speedPanel(u, loM, hiM)
	if err != nil {
		return Figure{}, err
	}
	height, err := v.heightPanel(u, loM, hiM)
	if err != nil {
		return Figure{}, err
	}
	if len(v.Others) > MostOthers {
		return Figure{}, notDrawable(v.Profile.Title, fmt.Sprintf("more than %d drives", MostOthers+1))
	}
	key := []keyLine{{stroke(inkBlack, 1.8), cmp.Or(v.Name, "Driven")}}
	for i, o := range v.Others {
		key = append(key, keyLine{otherStrokes[i], o.Name})
	}
	before := "" // whose the bars and the area are, where several drives are drawn
	if v.Name != "" {
		before = v.Name + ": "
	}
	if v.AdviceMPS > 0 {
		key = append(key, keyLine{stroke(inkBlack, 1.2, 6, 3), "Advised: " + v.SpeedAdv.In(u) + ". Grey and hatched: " + before + "over it by more than the recording's own error"})
	}
	if len(v.Bars) > len(barStrokes) {
		return Figure{}, notDrawable(v.Profile.Title, fmt.Sprintf("more than %d rows of bars", len(barStrokes)))
	}
	for k, bar := range v.Bars {
		key = append(key, keyLine{barStrokes[k], before + bar.Name})
	}
	head := []string{v.Profile.Title, v.Says.In(u)}
	return frame(head, v.Profile.Invented, []*plot.Plot{speed, height}, []vg.Length{2.8 * vg.Inch, 1.5 * vg.Inch}, key, v.Caption), nil
}

// speedPanel draws the driven speed; its line breaks where points are missing.
func (v *DriveView) speedPanel(u catalog.Units, loM, hiM float64) (*plot.Plot, error) {
	far := wording.LengthUnit(u)
	top := v.AdviceMPS / u.SpeedUnitMPS()
	series := func(l DriveLine) (xs, ys []float64, err error) {
		if len(l.SpeedMPS) != len(l.DistanceM) || l.AfterGap != nil && len(l.AfterGap) != len(l.DistanceM) {
			return nil, nil, notDrawable(v.Profile.Title, "the series of a drive differ in length")
		}
		for i, d := range l.DistanceM {
			s := l.SpeedMPS[i]
			if math.IsNaN(d+s) || math.IsInf(d+s, 0) {
				return nil, nil, notDrawable(v.Profile.Title, "a point of the drive is not a number")
			}
			if l.AfterGap != nil && l.AfterGap[i] {
				xs, ys = append(xs, d/far.Factor), append(ys, math.NaN())
			}
			xs, ys = append(xs, d/far.Factor), append(ys, s/u.SpeedUnitMPS())
			if d >= loM && d <= hiM {
				top = math.Max(top, s/u.SpeedUnitMPS())
			}
		}
		return xs, ys, nil
	}
	xs, ys, err := series(DriveLine{"", v.DistanceM, v.SpeedMPS, v.AfterGap})
	others := make([][2][]float64, len(v.Others))
	for i := range v.Others {
		if err == nil {
			others[i][0], others[i][1], err = series(v.Others[i])
		}
	}
	if err != nil {
		return nil, err
	}
	yHi := math.Max(top, 10) * 1.35 // head room for the labels
	p := panel("", "Speed, "+u.SpeedName(), [2]float64{loM / far.Factor, hiM / far.Factor}, [2]float64{0, yHi})
	p.X.Tick.Marker = plot.TickerFunc(unlabelled)
	p.Add(grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		v.paintOver(c, x, y, xs, ys, u)
		for i, o := range others { // on the area, or it would hide a drive slower than this one
			curve(c, otherStrokes[i], o[0], o[1], x, y)
		}
		v.paintSpeed(c, x, y, xs, ys, u)
		v.paintBars(c, x, far.Factor)
	}))
	return p, nil
}

// heightPanel draws the profile below, hatched where the drive was over the advice.
func (v *DriveView) heightPanel(u catalog.Units, loM, hiM float64) (*plot.Plot, error) {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	var hx, hy []float64
	yLo, yTop := math.Inf(1), math.Inf(-1)
	for i, s := range v.Profile.StationM {
		d, e := v.Profile.DistanceM(s), v.Profile.ElevationM[i]/high.Factor
		hx, hy = append(hx, d/far.Factor), append(hy, e)
		if d >= loM && d <= hiM && !math.IsNaN(e) {
			yLo, yTop = math.Min(yLo, e), math.Max(yTop, e)
		}
	}
	if !(yLo <= yTop) {
		return nil, notDrawable(v.Profile.Title, "no station of the profile has a height")
	}
	pad := math.Max(0.06*(yTop-yLo), 5/high.Factor)
	p := panel(alongLabel(u), "Elevation, "+high.Name, [2]float64{loM / far.Factor, hiM / far.Factor}, [2]float64{yLo - pad, yTop + pad})
	p.Y.Tick.Marker = plot.TickerFunc(fewTicks)
	p.Add(grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		for _, o := range v.OverM {
			hatch(c, stroke(inkMid, 0.6), max(c.Min.X, x(o[0]/far.Factor)), c.Min.Y, min(c.Max.X, x(o[1]/far.Factor)), c.Max.Y)
		}
		curve(c, stroke(inkBlack, 1.8), hx, hy, x, y)
	}))
	return p, nil
}

// paintOver fills the area between the driven and the advised speed where the truck was too fast.
func (v *DriveView) paintOver(c draw.Canvas, x, y func(float64) vg.Length, xs, ys []float64, u catalog.Units) {
	far := wording.LengthUnit(u)
	advised := v.AdviceMPS / u.SpeedUnitMPS()
	if v.AdviceMPS == 0 {
		return
	}
	for _, o := range v.OverM {
		area := []vg.Point{{X: x(o[0] / far.Factor), Y: y(advised)}}
		for i := range xs {
			if d := xs[i] * far.Factor; d >= o[0]-1e-6 && d <= o[1]+1e-6 && !math.IsNaN(ys[i]) {
				area = append(area, vg.Point{X: x(xs[i]), Y: y(math.Max(ys[i], advised))})
			}
		}
		area = append(area, vg.Point{X: x(o[1] / far.Factor), Y: y(advised)})
		if len(area) > 2 {
			c.FillPolygon(inkPale, c.ClipPolygonXY(area))
		}
	}
}

// paintSpeed draws the driven and the advised speed, and the marks.
func (v *DriveView) paintSpeed(c draw.Canvas, x, y func(float64) vg.Length, xs, ys []float64, u catalog.Units) {
	far := wording.LengthUnit(u)
	advised := v.AdviceMPS / u.SpeedUnitMPS()
	label := typeface(9, false)
	marks := []placed{}
	add := func(distanceM float64, text string) {
		if at := x(distanceM / far.Factor); at >= c.Min.X-0.5 && at <= c.Max.X+0.5 {
			marks = append(marks, placed{x0: at, x1: at, label: wording.Plain(text)})
		}
	}
	add(0, "crest")
	add(v.LengthM, "foot")
	if v.AdviceMPS > 0 {
		add(v.GearByM, "gear "+v.Gear+" in by here")
	}
	for _, m := range v.Marks {
		add(m.DistanceM, m.Label.In(u))
	}
	marks, _ = placeMarks(marks, label, c.Min.X+2, c.Max.X-2)
	row := func(m placed) vg.Length { return c.Max.Y - vg.Points(11) - vg.Length(m.row)*vg.Points(13) }
	for _, m := range marks {
		c.StrokeLine2(stroke(inkDark, 0.6, 1.5, 1.5), m.x0, c.Min.Y, m.x0, row(m)-vg.Points(2))
	}
	if v.AdviceMPS > 0 {
		a, b := max(c.Min.X, x(v.GearByM/far.Factor)), min(c.Max.X, x(v.LengthM/far.Factor))
		c.StrokeLine2(stroke(inkBlack, 1.2, 6, 3), a, y(advised), b, y(advised))
	}
	curve(c, stroke(inkBlack, 1.8), xs, ys, x, y)
	for _, m := range marks {
		pt := vg.Point{X: m.textX, Y: row(m)}
		c.FillPolygon(inkWhite, box(pt.X-1.5, pt.Y-2, pt.X+label.Width(m.label)+1.5, pt.Y+8))
		c.FillText(label, pt, m.label)
	}
}
