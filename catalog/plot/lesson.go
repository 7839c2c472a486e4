package plot

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// WayLine is the effect of one way down a hill on the service brakes.
type WayLine struct {
	Name                        string
	DistanceM, TempC, LeftShare []float64
	StrokeM                     []float64 // zeros for disc brakes
}

// LessonView compares ways down one hill.
type LessonView struct {
	Title         string
	Ways          []WayLine
	FadeC, SmokeC float64
	StrokeLimitM  float64 // rated stroke; 0 for disc brakes, which have none
	Invented      bool
	Caption       []string
}

// extent is the highest temperature to draw and the hill's length.
func (v *LessonView) extent() (hiC, endM float64, err error) {
	hiC = math.Max(v.FadeC, v.SmokeC)
	for _, w := range v.Ways {
		n := len(w.DistanceM)
		if n < 2 || len(w.TempC) != n || len(w.StrokeM) != n || len(w.LeftShare) != n {
			return 0, 0, notDrawable(v.Title, "a way down the hill has fewer than two stations, or its series differ in length")
		}
		hiC, endM = highest(hiC, w.TempC...), math.Max(endM, w.DistanceM[n-1])
	}
	if len(v.Ways) == 0 || !(endM > 0) {
		return 0, 0, notDrawable(v.Title, "there is no way down the hill to draw")
	}
	return hiC, endM, nil
}

// LessonFigure draws temperature, stroke and remaining force of each way along the hill.
func LessonFigure(v LessonView, u catalog.Units) (Figure, error) {
	hiC, endM, err := v.extent()
	if err != nil {
		return Figure{}, err
	}
	degrees, sign := func(c float64) float64 { return c }, "°C"
	strokeUnit, strokeName := 0.001, "mm"
	if u == catalog.US {
		degrees, sign, strokeUnit, strokeName = catalog.FFromC, "°F", catalog.InchM, "in"
	}
	far := wording.LengthUnit(u).Factor
	lines := []draw.LineStyle{stroke(inkBlack, 2), stroke(inkBlack, 1.6, 7, 3), stroke(inkDark, 1.1, 2, 2), stroke(inkMid, 1.6)}
	series := func(yLabel string, lo, hi float64, of func(w *WayLine) []float64, to func(float64) float64, levels ...float64) *plot.Plot {
		p := panel(alongLabel(u), yLabel, [2]float64{0, endM / far}, [2]float64{lo, hi})
		p.Y.Tick.Marker = plot.TickerFunc(fewTicks)
		p.Add(grid(p), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
			for _, l := range levels {
				c.StrokeLine2(stroke(inkBlack, 0.9, 1, 2), c.Min.X, y(l), c.Max.X, y(l))
			}
			for i := range v.Ways {
				xs, ys := []float64{}, []float64{}
				for k, d := range v.Ways[i].DistanceM {
					xs, ys = append(xs, d/far), append(ys, to(of(&v.Ways[i])[k]))
				}
				curve(c, lines[i%len(lines)], xs, ys, x, y)
			}
		}))
		return p
	}
	panels := []*plot.Plot{series("Brakes, "+sign, degrees(0), degrees(hiC)*1.08, func(w *WayLine) []float64 { return w.TempC }, degrees, degrees(v.FadeC), degrees(v.SmokeC))}
	heights := []vg.Length{2.0 * vg.Inch}
	if v.StrokeLimitM > 0 {
		top := v.StrokeLimitM
		for _, w := range v.Ways {
			top = highest(top, w.StrokeM...)
		}
		panels = append(panels, series("Stroke, "+strokeName, 0, top/strokeUnit*1.1, func(w *WayLine) []float64 { return w.StrokeM },
			func(m float64) float64 { return m / strokeUnit }, v.StrokeLimitM/strokeUnit))
		heights = append(heights, 1.3*vg.Inch)
	}
	panels = append(panels, series("Force left, %", 0, 105, func(w *WayLine) []float64 { return w.LeftShare }, func(s float64) float64 { return 100 * s }))
	heights = append(heights, 1.4*vg.Inch)
	for _, p := range panels[:len(panels)-1] {
		p.X.Label.Text, p.X.Tick.Marker = "", plot.TickerFunc(unlabelled)
	}
	var key []keyLine
	for i, w := range v.Ways {
		key = append(key, keyLine{lines[i%len(lines)], w.Name})
	}
	key = append(key, keyLine{stroke(inkBlack, 0.9, 1, 2), "fade begins at " + u.Temp(v.FadeC) + ", smell and smoke at " + u.Temp(v.SmokeC) + " (common practice)" + map[bool]string{true: "; the end of the stroke"}[v.StrokeLimitM > 0]})
	return frame([]string{v.Title}, v.Invented, panels, heights, key, v.Caption), nil
}
