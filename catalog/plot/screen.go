package plot

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// ScreenProfile is a profile for the report, in the units of its SVG's view
// box: small enough that a page can hold hundreds.
type ScreenProfile struct {
	WidthPx, HeightPx           float64
	Ground, Line, Band          string // path data
	Bars                        []barDrawing
	Gaps                        []gapDrawing
	X, Y, G                     []tickDrawing
	Marks                       []markDrawing
	Drives                      []driveDrawing
	LeftPx, RightPx             float64
	TopPx, MidPx, LowPx, BasePx float64 // top and bottom of the two panels
	XLabel, YLabel              string
	BarWords                    string
	Alt                         string
}

type barDrawing struct {
	X, Y, W, H float64
	Off        bool // not on measured ground
	// A line from End to May at Mid shows the steep end of the bar's bound, where Known.
	Mid, End, May float64
	Known         bool
}

type gapDrawing struct {
	X, W, H float64
	Label   string
}

// driveDrawing is a stretch over which a drive was recorded, at the foot of the upper panel.
type driveDrawing struct{ X0, X1, Y float64 }

// mostDrawnDrives keeps the drives at the foot of their panel.
const mostDrawnDrives = 6

type tickDrawing struct {
	At   float64
	Text string
}

type markDrawing struct {
	X0, X1, TextX, TextY, BarY, Y0, Y1 float64
	Label                              string
}

// StationSeries is the data of the page's cursor: one entry for each station. Places on
// the drawings are shares of the profile's and the map's view box.
type StationSeries struct {
	XShare       []float64 `json:"x_share"`
	MapXShare    []float64 `json:"map_x_share"`
	MapYShare    []float64 `json:"map_y_share"`
	DistanceM    []float64 `json:"distance_m"`    // from the crest
	ElevationM   []any     `json:"elevation_m"`   // null in a gap
	DowngradePct []any     `json:"downgrade_pct"` // of the 100 m around
	Piece        []int     `json:"piece"`         // row of the table of 100 m pieces
}

// mostDrawnStations limits the size of a long descent's drawing.
const mostDrawnStations = 400

// place of a view's stations on Earth, along the entry's line.
func lineAt(e *catalog.Entry, v *ProfileView, distanceM float64) (lonDeg, latDeg float64) {
	vs := e.Line
	for i := 1; i < len(vs); i++ {
		a, b := v.DistanceM(vs[i-1].StationM), v.DistanceM(vs[i].StationM)
		if distanceM <= b || i == len(vs)-1 {
			t := 0.0
			if b > a {
				t = math.Max(0, math.Min(1, (distanceM-a)/(b-a)))
			}
			return vs[i-1].LonDeg + t*math.Remainder(vs[i].LonDeg-vs[i-1].LonDeg, 360), vs[i-1].LatDeg + t*(vs[i].LatDeg-vs[i-1].LatDeg)
		}
	}
	if len(vs) == 1 {
		return vs[0].LonDeg, vs[0].LatDeg
	}
	return math.NaN(), math.NaN()
}

// screen is a profile being laid out: the view, the scales of its panels and the drawing so far.
type screen struct {
	v           *ProfileView
	u           catalog.Units
	d           ScreenProfile
	first, last float64 // distances of the view's ends
	lo, hi      float64 // heights
	gLo, gHi    float64 // downgrades
}

func (s *screen) x(distanceM float64) float64 {
	return round1(s.d.LeftPx + (distanceM-s.first)/(s.last-s.first)*(s.d.RightPx-s.d.LeftPx))
}

func (s *screen) y(elevationM float64) float64 {
	return round1(s.d.MidPx - (elevationM-s.lo)/(s.hi-s.lo)*(s.d.MidPx-s.d.TopPx))
}

func (s *screen) g(downgradePct float64) float64 {
	return round1(s.d.BasePx - (downgradePct-s.gLo)/(s.gHi-s.gLo)*(s.d.BasePx-s.d.LowPx))
}

// DrawForScreen lays a profile out and returns it with the cursor's data.
func DrawForScreen(e *catalog.Entry, v *ProfileView, u catalog.Units, m MapSpace) (ScreenProfile, StationSeries, error) {
	if err := v.check(); err != nil {
		return ScreenProfile{}, StationSeries{}, err
	}
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	s := &screen{v: v, u: u, d: ScreenProfile{WidthPx: 900, LeftPx: 66, RightPx: 890, XLabel: alongLabel(u), YLabel: "Elevation, " + high.Name, Alt: v.Alt(u)},
		first: v.DistanceM(v.StationM[0]), last: v.DistanceM(v.StationM[len(v.StationM)-1])}
	marks := s.placeMarks()
	if err := s.chooseHeights(); err != nil {
		return s.d, StationSeries{}, err
	}
	series := s.lines(e, m)
	s.bars()
	series.addPieces(v.GradeBars(100))
	for _, p := range v.gaps() {
		a, b := math.Max(s.d.LeftPx, s.x(p.fromM)), math.Min(s.d.RightPx, s.x(p.toM))
		if a < b {
			s.d.Gaps = append(s.d.Gaps, gapDrawing{a, round1(b - a), round1(s.d.BasePx - s.d.TopPx), p.label})
		}
	}
	s.d.X = tickDrawings(ticks(s.first/far.Factor, s.last/far.Factor), func(t float64) float64 { return s.x(t * far.Factor) })
	s.d.Y = tickDrawings(fewTicks(s.lo/high.Factor, s.hi/high.Factor), func(t float64) float64 { return s.y(t * high.Factor) })
	s.d.G = tickDrawings(fewTicks(s.gLo, s.gHi), s.g)
	s.marks(marks)
	s.drives()
	return s.d, series, nil
}

// drives draws the first recorded drives one above the other.
func (s *screen) drives() {
	for _, p := range s.v.DrivesM {
		a, b := s.x(s.v.DistanceM(p[0])), s.x(s.v.DistanceM(p[1]))
		a, b = math.Max(s.d.LeftPx, math.Min(a, b)), math.Min(s.d.RightPx, math.Max(a, b))
		if n := len(s.d.Drives); a < b && n < mostDrawnDrives {
			s.d.Drives = append(s.d.Drives, driveDrawing{a, b, round1(s.d.MidPx - 4 - 4*float64(n))})
		}
	}
}

// placeMarks finds the rows of labels, and with them where the panels begin.
func (s *screen) placeMarks() []placed {
	d := &s.d
	var marks []placed
	for _, k := range s.v.Marks {
		x0, x1 := s.x(s.v.DistanceM(k.FromM)), s.x(s.v.DistanceM(k.ToM))
		if x1 >= d.LeftPx-1 && x0 <= d.RightPx+1 {
			marks = append(marks, placed{x0: vg.Length(math.Max(d.LeftPx, x0)), x1: vg.Length(math.Min(d.RightPx, x1)), label: wording.Plain(k.Label.In(s.u))})
		}
	}
	marks, rows := placeMarks(marks, typeface(13, false), vg.Length(d.LeftPx), vg.Length(d.RightPx))
	d.TopPx = float64(rows)*19 + 6
	d.MidPx, d.LowPx = d.TopPx+150, d.TopPx+178 // between them the name of the lower panel
	d.BasePx = d.LowPx + 84
	d.HeightPx = d.BasePx + 40
	return marks
}

// chooseHeights finds the range of the upper panel.
func (s *screen) chooseHeights() error {
	s.lo, s.hi = math.Inf(1), math.Inf(-1)
	for i, e := range s.v.ElevationM {
		for _, h := range []float64{e, s.v.groundAt(i)} {
			if !math.IsNaN(h) {
				s.lo, s.hi = math.Min(s.lo, h), math.Max(s.hi, h)
			}
		}
	}
	if s.lo > s.hi {
		return &catalog.Fault{Kind: catalog.ErrImpossible, Feature: s.v.Title, What: "no station of the profile has a height", Fix: "survey the route with terrain that covers it"}
	}
	pad := math.Max(0.06*(s.hi-s.lo), 5)
	s.lo, s.hi = s.lo-pad, s.hi+pad
	return nil
}

// lines draws ground, grade line and its bound, and returns the cursor's data.
func (s *screen) lines(e *catalog.Entry, m MapSpace) StationSeries {
	v, n := s.v, len(s.v.StationM)
	stride := (n + mostDrawnStations - 1) / mostDrawnStations
	var out StationSeries
	var px, line, ground []float64
	for i := 0; i < n; i++ {
		if i%stride != 0 && i != n-1 {
			continue
		}
		at := v.DistanceM(v.StationM[i])
		px, line, ground = append(px, s.x(at)), append(line, s.y(v.ElevationM[i])), append(ground, s.y(v.groundAt(i)))
		lon, lat := lineAt(e, v, at)
		mx, my := m.xy(lon, lat)
		out.XShare = append(out.XShare, share(s.x(at), s.d.WidthPx))
		out.MapXShare, out.MapYShare = append(out.MapXShare, share(mx, mapWidth)), append(out.MapYShare, share(my, m.height))
		out.DistanceM = append(out.DistanceM, math.Round(at*10)/10)
		out.ElevationM = append(out.ElevationM, orNull(math.Round(v.ElevationM[i]*100)/100))
	}
	s.d.Line, s.d.Ground = brokenPath(px, line), brokenPath(px, ground)
	if b := v.Bound.ElevationM; b > 0 && !math.IsInf(b, 0) {
		s.d.Band = bandPath(px, line, b/(s.hi-s.lo)*(s.d.MidPx-s.d.TopPx))
	}
	return out
}

// bars draws the downgrade of every piece.
func (s *screen) bars() {
	bars := s.v.GradeBars(s.v.barStepM())
	s.d.BarWords = barWords(s.v.barStepM())
	s.gLo, s.gHi = gradeRange(bars)
	for _, b := range bars {
		if !math.IsNaN(b.DowngradePct) {
			top, bottom := s.g(math.Max(0, b.DowngradePct)), s.g(math.Min(0, b.DowngradePct))
			s.d.Bars = append(s.d.Bars, barDrawing{s.x(b.FromM), top, round1(s.x(b.ToM) - s.x(b.FromM)), round1(bottom - top), !b.Measured,
				round1((s.x(b.FromM) + s.x(b.ToM)) / 2), s.g(b.DowngradePct), s.g(b.DowngradePct + b.errPct), b.errPct > 0})
		}
	}
}

// addPieces adds the piece of each station and its grade.
func (s *StationSeries) addPieces(pieces []gradeBar) {
	k := 0
	for _, at := range s.DistanceM {
		for k+1 < len(pieces) && pieces[k].ToM <= at {
			k++
		}
		grade := any(nil)
		if len(pieces) > 0 {
			grade = orNull(math.Round(pieces[k].DowngradePct*10) / 10)
		}
		s.DowngradePct, s.Piece = append(s.DowngradePct, grade), append(s.Piece, k)
	}
}

// marks draws the labels with leaders down to the line.
func (s *screen) marks(marks []placed) {
	back := func(px vg.Length) float64 {
		h := s.v.HeightAt(s.first + (float64(px)-s.d.LeftPx)/(s.d.RightPx-s.d.LeftPx)*(s.last-s.first))
		if math.IsNaN(h) {
			return s.d.MidPx
		}
		return s.y(h)
	}
	for _, p := range marks {
		row := s.d.TopPx - 8 - float64(p.row)*19
		s.d.Marks = append(s.d.Marks, markDrawing{round1(float64(p.x0)), round1(float64(p.x1)), round1(float64(p.textX)), row, row + 4, back(p.x0), back(p.x1), p.label})
	}
}

// groundAt is the ground's height at a station of the view, NaN where there is none.
func (v *ProfileView) groundAt(i int) float64 {
	if v.GroundM == nil {
		return math.NaN()
	}
	return v.GroundM[i]
}

func tickDrawings(ts []plot.Tick, at func(float64) float64) []tickDrawing {
	out := make([]tickDrawing, len(ts))
	for i, t := range ts {
		out[i] = tickDrawing{at(t.Value), t.Label}
	}
	return out
}

// brokenPath writes path data with a new start after every gap.
func brokenPath(xs, ys []float64) string {
	var b strings.Builder
	pen := "M"
	for i := range xs {
		if math.IsNaN(ys[i]) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&b, "%s%g %g", pen, xs[i], ys[i])
		pen = "L"
	}
	return b.String()
}

// bandPath writes a band around each unbroken piece of a line.
func bandPath(xs, ys []float64, half float64) string {
	var b strings.Builder
	for i := 1; i < len(xs); i++ {
		if !math.IsNaN(ys[i-1] + ys[i]) {
			fmt.Fprintf(&b, "M%g %gL%g %gL%g %gL%g %gZ", xs[i-1], round1(ys[i-1]-half), xs[i], round1(ys[i]-half), xs[i], round1(ys[i]+half), xs[i-1], round1(ys[i-1]+half))
		}
	}
	return b.String()
}

func orNull(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// share is a place on a drawing as a share of its size, to five decimals; outside the drawing where
// there is none.
func share(v, of float64) float64 {
	if s := v / of; !math.IsNaN(s) && !math.IsInf(s, 0) {
		return math.Round(s*1e5) / 1e5
	}
	return -1
}
