package plot

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// profileLayout arranges title, marks, panels, key and small print on one figure. The
// first panel is that of the elevation.
type profileLayout struct {
	v       *ProfileView
	u       catalog.Units
	size    profileSize
	panels  []*plot.Plot
	heights []vg.Length

	left, right vg.Length // of the data on the figure
	marks       []placed
	head, foot  []string
	headHeight  vg.Length
	marksHeight vg.Length
}

// markRow is the height of a row of marks.
const markRow = 15

func (l *profileLayout) title() text.Style { return typeface(12, true) }

// barePt keeps the text of a driver's page at 9 pt where A4 makes the figure a little smaller.
const barePt = 9.1

func (l *profileLayout) small() text.Style {
	if l.size.bare {
		return typeface(barePt, false)
	}
	return typeface(7.5, false)
}

func (l *profileLayout) label() text.Style {
	if l.size.bare {
		return typeface(barePt, true)
	}
	return typeface(9, false)
}

// figure lays everything out and returns the figure.
func (l *profileLayout) figure() Figure {
	l.placeMarks()
	l.words()
	inner := l.size.width - vg.Points(16)
	footHeight := smallPrint(draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: inner, Y: 1000}}}, l.small(), l.foot, false)
	total := l.headHeight + l.marksHeight + footHeight + vg.Points(14)
	for _, h := range l.heights {
		total += h
	}
	return Figure{l.size.width, total, l.v.Alt(l.u), func(c draw.Canvas) { l.paint(c, total) }}
}

// placeMarks finds the place of each mark and its label. That depends on the area of the data,
// which the panels decide.
func (l *profileLayout) placeMarks() {
	inner := l.size.width - vg.Points(16)
	var left, right vg.Length
	for _, p := range l.panels {
		a, b := dataMargins(p, inner)
		left, right = max(left, a), max(right, b)
	}
	l.left, l.right = vg.Points(8)+left, l.size.width-vg.Points(8)-right
	var marks []placed
	for _, m := range l.v.Marks {
		x0, x1 := l.x(m.FromM), l.x(m.ToM)
		if x1 < l.left-0.5 || x0 > l.right+0.5 || math.IsNaN(float64(x0+x1)) {
			continue
		}
		marks = append(marks, placed{x0: max(l.left, x0), x1: min(l.right, x1), label: wording.Plain(m.Label.In(l.u))})
	}
	rows := 0
	l.marks, rows = placeMarks(marks, l.label(), l.left, l.right)
	l.marksHeight = vg.Length(rows) * vg.Points(markRow)
}

// x is the position of a station on the figure.
func (l *profileLayout) x(stationM float64) vg.Length {
	top := l.panels[0]
	t := (l.v.DistanceM(stationM)/wording.LengthUnit(l.u).Factor - top.X.Min) / (top.X.Max - top.X.Min)
	return l.left + vg.Length(t)*(l.right-l.left)
}

// words chooses the lines above and below.
func (l *profileLayout) words() {
	v := l.v
	if l.size.bare {
		l.foot = []string{v.shortKey(l.u, l.size.grade > 0)}
	} else {
		l.head = []string{v.Title}
		if v.Invented {
			l.head = append(l.head, wording.InventedBanner)
		}
		l.head = append(append(l.head, v.Subtitle.In(l.u)), v.Warnings...)
		l.foot = append([]string{v.key(l.u)}, v.Caption...)
	}
	l.headHeight = vg.Points(3)
	for i := range l.head {
		l.headHeight += vg.Points([]float64{16, 13}[min(i, 1)])
	}
}

func (l *profileLayout) paint(c draw.Canvas, total vg.Length) {
	c.FillPolygon(inkWhite, box(0, 0, l.size.width, total))
	in := draw.Crop(c, vg.Points(8), -vg.Points(8), vg.Points(4), -vg.Points(4))
	y := in.Max.Y
	for i, s := range l.head {
		sty := l.label()
		if i == 0 {
			sty = l.title()
		}
		y -= vg.Points([]float64{14, 12}[min(i, 1)])
		c.FillText(sty, vg.Point{X: in.Min.X, Y: y}, wording.Plain(s))
	}
	body := in
	body.Max.Y = in.Max.Y - l.headHeight - l.marksHeight
	body.Min.Y = body.Max.Y
	for _, h := range l.heights {
		body.Min.Y -= h
	}
	areas := stack(body, l.panels, l.heights)
	l.paintMarks(c, areas[0], body.Max.Y)
	l.paintGaps(c, areas[0])
	rest := in
	rest.Max.Y = body.Min.Y - vg.Points(2)
	smallPrint(rest, l.small(), l.foot, true)
}

// paintMarks draws the marks above the panels with leaders down to the line.
func (l *profileLayout) paintMarks(c, area draw.Canvas, above vg.Length) {
	top, label := l.panels[0], l.label()
	far, high := wording.LengthUnit(l.u), wording.HeightUnit(l.u)
	_, toY := top.Transforms(&area)
	row := func(m placed) vg.Length { return above + vg.Length(m.row)*vg.Points(markRow) + vg.Points(5) }
	for _, m := range l.marks { // leaders first, so that no leader crosses a label
		yBar := row(m) - vg.Points(2.5)
		for _, x := range []vg.Length{m.x0, m.x1} {
			d := top.X.Min + float64((x-l.left)/(l.right-l.left))*(top.X.Max-top.X.Min)
			if e := l.v.HeightAt(d * far.Factor); !math.IsNaN(e) {
				c.StrokeLine2(stroke(inkDark, 0.6), x, yBar, x, toY(e/high.Factor))
			}
		}
	}
	for _, m := range l.marks {
		y := row(m)
		c.FillPolygon(inkWhite, box(m.textX-1.5, y-vg.Points(2), m.textX+label.Width(m.label)+1.5, y+vg.Points(8)))
		c.FillText(label, vg.Point{X: m.textX, Y: y}, m.label)
		c.StrokeLine2(stroke(inkBlack, 1.6), m.x0-vg.Points(1), y-vg.Points(2.5), m.x1+vg.Points(1), y-vg.Points(2.5))
	}
}

// paintGaps names the stretches without measured ground.
func (l *profileLayout) paintGaps(c, area draw.Canvas) {
	top, small, far := l.panels[0], l.small(), wording.LengthUnit(l.u)
	share := func(distanceM float64) vg.Length {
		return area.X((distanceM/far.Factor - top.X.Min) / (top.X.Max - top.X.Min))
	}
	for _, g := range l.v.gaps() {
		a, b := share(g.fromM), share(g.toM)
		at := (max(a, area.Min.X)+min(b, area.Max.X))/2 - small.Width(g.label)/2
		pt := vg.Point{X: max(area.Min.X+1, min(at, area.Max.X-small.Width(g.label)-1)), Y: area.Min.Y + vg.Points(3)}
		c.FillPolygon(inkWhite, box(pt.X-1, pt.Y-1.5, pt.X+small.Width(g.label)+1, pt.Y+0.87*small.Font.Size))
		c.FillText(small, pt, g.label)
	}
}

// key explains the lines and bars, and their bounds.
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
		s += " White bars: the ground is farther from the line than its bound; check whether a bridge, a tunnel or a dip is there."
	}
	return s
}

// Alt describes the figure in words.
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

// shortKey is the key for a small figure.
func (v *ProfileView) shortKey(u catalog.Units, bars bool) string {
	s := "Heavy line: the road as recovered"
	if b := v.Bound.ElevationM; b > 0 && !math.IsInf(b, 0) {
		s += fmt.Sprintf(", ± %s (95 %%)", u.Height(math.Max(b, wording.HeightUnit(u).Factor)))
	}
	if bars {
		s += ". Bars: downgrade of every " + barWords(v.barStepM())
		if v.ErrPct != nil {
			s += "; thin line: how steep at most (95 %)"
		}
	}
	return s + ". Hatched: not measured."
}
