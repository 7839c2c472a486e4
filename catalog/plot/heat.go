package plot

import (
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// HeatView is the temperature of the service brakes along the hill if they did the work that the
// retarder does not.
type HeatView struct {
	Title       string
	Class       string
	DistanceM   []float64 // from the crest, in travel
	TempC       []float64 // the grade-severity structure
	BalanceC    []float64 // a heat balance from first principles, as a check; may be nil
	ForceShare  []float64 // share of the cold braking force that remains; may be nil
	LimitC      float64   // 0 where none is to be drawn
	LimitSource string
	Case        wording.Both // assumed use of the service brakes
	Status      string       // of the constants, shown with the curves
	Caption     []string
	Invented    bool
}

// HeatViewFor makes a view from an entry and one of its holds.
func HeatViewFor(e *catalog.Entry, h *catalog.Hold) HeatView {
	v := HeatView{Title: wording.Title(&e.Descent) + ", " + wording.Heading(&e.Descent), Class: h.Class, Case: wording.InBoth(h.HeatCaseIn), Invented: e.Provenance.Invented,
		Caption: []string{wording.ReviewLine(e), wording.SourceLine(e.Provenance), catalog.Cautions()[0]}}
	view := ProfileView{Direction: e.Descent.Direction, CrestM: e.Descent.StartM}
	for _, s := range h.Heat {
		v.DistanceM = append(v.DistanceM, view.DistanceM(s.StationM))
		v.TempC, v.BalanceC = append(v.TempC, s.TempC), append(v.BalanceC, s.BalanceC)
		v.ForceShare = append(v.ForceShare, s.ForceShare)
	}
	var says, all []string
	for _, s := range h.Statuses {
		all = append(all, s.Figure+" "+s.Status)
		if f := strings.ToLower(s.Figure); strings.Contains(f, "heat") || strings.Contains(f, "stroke") { // status of the curves' constants
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
	return f.SVG(w)
}

// HeatPNG draws the same as HeatSVG, as a PNG of 200 dots an inch.
func HeatPNG(w io.Writer, v HeatView, u catalog.Units) error {
	f, err := heatFigure(v, u)
	if err != nil {
		return err
	}
	return f.PNG(w)
}

// heatSeries are a heat view's series in the units of the axes.
type heatSeries struct {
	x, temp, balance, share []float64
	hi                      float64 // the highest temperature
	sign                    string
	degrees                 func(tempC float64) float64
}

// series converts a view's series; unknown values are NaN.
func (v *HeatView) series(u catalog.Units) (heatSeries, error) {
	n := len(v.DistanceM)
	if n < 2 || len(v.TempC) != n || v.BalanceC != nil && len(v.BalanceC) != n || v.ForceShare != nil && len(v.ForceShare) != n {
		return heatSeries{}, notDrawable(v.Title, "the heat along the hill has no two stations, or its series differ in length")
	}
	s := heatSeries{make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), 0, "°C", func(c float64) float64 { return c }}
	if u == catalog.US {
		s.degrees, s.sign = catalog.FFromC, "°F"
	}
	s.hi = s.degrees(v.LimitC)
	for i := range n {
		s.x[i], s.temp[i], s.balance[i], s.share[i] = v.DistanceM[i]/wording.LengthUnit(u).Factor, s.degrees(v.TempC[i]), math.NaN(), math.NaN()
		if v.BalanceC != nil {
			s.balance[i] = s.degrees(v.BalanceC[i])
		}
		if v.ForceShare != nil {
			s.share[i] = 100 * v.ForceShare[i]
		}
		s.hi = highest(s.hi, s.temp[i], s.balance[i])
	}
	if !(s.x[n-1] > s.x[0]) || !(s.hi > 0) {
		return s, notDrawable(v.Title, "the heat along the hill has stations that do not ascend from the crest, or no temperature")
	}
	return s, nil
}

// highest is the greatest of the finite figures.
func highest(hi float64, ts ...float64) float64 {
	for _, t := range ts {
		if !math.IsNaN(t) && !math.IsInf(t, 0) {
			hi = math.Max(hi, t)
		}
	}
	return hi
}

func heatFigure(v HeatView, u catalog.Units) (Figure, error) {
	s, err := v.series(u)
	if err != nil {
		return Figure{}, err
	}
	along := [2]float64{s.x[0], s.x[len(s.x)-1]}
	top := panel(alongLabel(u), "Service brakes, "+s.sign, along, [2]float64{0, s.hi * 1.1})
	key := []keyLine{{stroke(inkBlack, 1.8), "Grade-severity structure"}}
	top.Add(grid(top), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
		if v.LimitC > 0 {
			c.StrokeLine2(stroke(inkBlack, 0.8, 1, 2), c.Min.X, y(s.degrees(v.LimitC)), c.Max.X, y(s.degrees(v.LimitC)))
		}
		curve(c, stroke(inkDark, 1.3, 6, 3), s.x, s.balance, x, y)
		curve(c, stroke(inkBlack, 1.8), s.x, s.temp, x, y)
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
		low := panel(alongLabel(u), "Braking force left, %", along, [2]float64{0, 100})
		low.Add(grid(low), painter(func(c draw.Canvas, x, y func(float64) vg.Length) {
			curve(c, stroke(inkBlack, 1.8), s.x, s.share, x, y)
		}))
		panels, heights = append(panels, low), append(heights, 1.6*vg.Inch)
	}
	status, what := v.Status, v.Case.In(u)
	if status == "" {
		status = "not stated"
	}
	if what == "" {
		what = "if they did what the retarder does not"
	}
	head := []string{v.Title, v.Class + ": the service brakes, " + strings.TrimSuffix(what, ".") + ". Not advice: no hold drags them."}
	return frame(head, v.Invented, panels, heights, key, append([]string{"Status of the constants: " + status + "."}, v.Caption...)), nil
}
