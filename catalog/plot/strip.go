package plot

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// strip is the geometry of one strip plan, in SVG user units.
type strip struct {
	b            strings.Builder
	u            catalog.Units
	s            *signs.Schedule
	course       signs.Course
	fromM, toM   float64 // past the crest
	lowM, highM  float64
	left, right  float64
	top, bottom  float64 // of the profile
	keyTop, high float64
}

const (
	stripWidth  = 1600.0
	stripLevels = 6 // rows of numbered marks above the profile
)

// StripSVG draws a schedule of signs on the profile over stations: numbered marks
// on leaders, the stretches, structures and curves in bands below, and a key.
// Marks are generic shapes (diamond warns, square informs, triangle is a ramp,
// circle is advice), no drawings of signs; everything reads in black and white.
// Same schedule and units, same bytes.
func StripSVG(w io.Writer, s signs.Schedule, u catalog.Units) error {
	g := &strip{u: u, s: &s, course: s.Course(), left: 90, right: stripWidth - 40, top: 250, bottom: 520, keyTop: 690}
	g.chooseRange()
	rows := len(s.Placements) + len(s.Panel) + 1
	g.high = g.keyTop + 20*float64(rows+len(s.Stretches)) + 18*float64(len(s.Choices)) + 90
	fmt.Fprintf(&g.b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" viewBox="0 0 %.0f %.0f" font-family="Liberation Sans, Arial, sans-serif" fill="none" stroke="black" role="img">`+"\n",
		stripWidth, g.high, stripWidth, g.high)
	g.b.WriteString(`<defs><pattern id="unsure" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="8" height="8" fill="white" stroke="none"/><line x1="0" y1="0" x2="0" y2="8" stroke-width="3"/></pattern></defs>` + "\n")
	fmt.Fprintf(&g.b, `<rect width="%.0f" height="%.0f" fill="white" stroke="none"/>`+"\n", stripWidth, g.high)
	name := s.Name
	if name == "" {
		name = s.DescentID
	}
	g.text(g.left, 34, 22, "start", true, fmt.Sprintf("Sign schedule: %s, %s", name, s.Direction))
	g.text(g.left, 56, 14, "start", false, fmt.Sprintf("%s. Approach %s, slowest class %s. %s", s.Title, u.Speed(s.ApproachMPS), u.Speed(s.AdvisedMPS), catalog.SignCaution))
	g.axes()
	g.profile()
	g.bands()
	g.marks()
	g.key()
	g.b.WriteString("</svg>\n")
	_, err := io.WriteString(w, g.b.String())
	return err
}

// chooseRange covers every sign and the descent, with a little beyond.
func (g *strip) chooseRange() {
	t := &g.course
	g.fromM, g.toM = 0, t.LengthM
	for _, p := range g.s.Placements {
		g.fromM, g.toM = math.Min(g.fromM, t.PastM(p.StationM)), math.Max(g.toM, t.PastM(p.StationM))
	}
	pad := 0.02 * (g.toM - g.fromM)
	g.fromM, g.toM = g.fromM-pad, g.toM+pad
	g.lowM, g.highM = math.Inf(1), math.Inf(-1)
	for k := 0; k <= 800; k++ {
		if h := t.ElevationM(g.fromM + (g.toM-g.fromM)*float64(k)/800); !math.IsNaN(h) {
			g.lowM, g.highM = math.Min(g.lowM, h), math.Max(g.highM, h)
		}
	}
	if g.highM-g.lowM < 1 {
		g.highM = g.lowM + 1
	}
}

func (g *strip) x(pastM float64) float64 {
	return g.left + (g.right-g.left)*(pastM-g.fromM)/(g.toM-g.fromM)
}

func (g *strip) y(elevationM float64) float64 {
	return g.bottom - (g.bottom-g.top)*(elevationM-g.lowM)/(g.highM-g.lowM)
}

func (g *strip) text(x, y, size float64, anchor string, bold bool, s string) {
	weight := ""
	if bold {
		weight = ` font-weight="bold"`
	}
	fmt.Fprintf(&g.b, `<text x="%.1f" y="%.1f" font-size="%.0f" text-anchor="%s"%s fill="black" stroke="none">`, x, y, size, anchor, weight)
	xml.EscapeText(&g.b, []byte(s)) // a strings.Builder does not fail
	g.b.WriteString("</text>\n")
}

func (g *strip) line(x1, y1, x2, y2, width float64, dash string) {
	if dash != "" {
		dash = fmt.Sprintf(` stroke-dasharray="%s"`, dash)
	}
	fmt.Fprintf(&g.b, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke-width="%.1f"%s/>`+"\n", x1, y1, x2, y2, width, dash)
}

// tick is a round step that gives about n of them over a span.
func tick(span float64, n int) float64 {
	raw := span / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= raw {
			return m * p
		}
	}
	return 10 * p
}

func (g *strip) axes() {
	t, perM, unit, perH, unitH := &g.course, 1000.0, "km", 1.0, "m"
	if g.u == catalog.US {
		perM, unit, perH, unitH = catalog.MileM, "mi", catalog.FootM, "ft"
	}
	step := tick((g.highM-g.lowM)/perH, 5)
	for h := math.Ceil(g.lowM/perH/step) * step; h*perH <= g.highM; h += step {
		y := g.y(h * perH)
		g.line(g.left, y, g.right, y, 0.4, "2 6")
		g.text(g.left-8, y+5, 13, "end", false, wording.Thousands(h+0))
	}
	g.text(g.left-8, g.top-14, 13, "end", false, unitH)
	step = tick((g.toM-g.fromM)/perM, 12)
	a, b := t.StationM(g.fromM), t.StationM(g.toM)
	for v := math.Ceil(math.Min(a, b)/perM/step) * step; v*perM <= math.Max(a, b); v += step {
		x := g.x(t.PastM(v * perM))
		g.line(x, g.bottom, x, g.bottom+7, 1, "")
		g.text(x, g.bottom+22, 13, "middle", false, fmt.Sprintf("%.4g", v+0))
	}
	g.line(g.left, g.bottom, g.right, g.bottom, 1.2, "")
	g.text(g.right, g.bottom+40, 13, "end", false, "station, "+unit+"; travel from left to right")
}

func (g *strip) profile() {
	t := &g.course
	pen := "M"
	g.b.WriteString(`<path stroke-width="2.5" d="`)
	for k := 0; k <= 800; k++ {
		past := g.fromM + (g.toM-g.fromM)*float64(k)/800
		h := t.ElevationM(past)
		if math.IsNaN(h) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&g.b, "%s%.1f %.1f", pen, g.x(past), g.y(h))
		pen = "L"
	}
	g.b.WriteString("\"/>\n")
	for _, e := range []struct {
		past float64
		name string
	}{{0, "crest"}, {t.LengthM, "foot"}} {
		g.line(g.x(e.past), g.top-6, g.x(e.past), g.bottom, 0.8, "8 4")
		g.text(g.x(e.past)+4, g.bottom-6, 13, "start", false, e.name)
	}
}

// bands draws stretches, structures and curves under the axis.
func (g *strip) bands() {
	t, y := &g.course, g.bottom+58
	g.text(g.left-8, y+11, 12, "end", false, "warrants")
	for _, st := range g.s.Stretches {
		fill := "black"
		switch st.Verdict {
		case signs.CantTell:
			fill = "url(#unsure)"
		case signs.NotWarranted:
			continue
		}
		x0, x1 := g.x(t.PastM(st.FromM)), g.x(t.PastM(st.ToM))
		fmt.Fprintf(&g.b, `<rect x="%.1f" y="%.1f" width="%.1f" height="12" fill="%s" stroke-width="1"/>`+"\n", x0, y, x1-x0, fill)
		g.text((x0+x1)/2, y+27, 12, "middle", false, fmt.Sprintf("%s %s: %.1f ± %.1f %%", st.Warrant, st.Verdict, st.MeanPct, math.Ceil(10*st.MeanErrPct-1e-9)/10))
		y += 32
	}
	y = math.Max(y, g.bottom+90)
	g.text(g.left-8, y+11, 12, "end", false, "structures")
	for _, st := range t.Structures {
		a, b := math.Max(st.FromM, g.fromM), math.Min(st.ToM, g.toM)
		if b <= a {
			continue
		}
		dash := ""
		if st.Kind == routes.Tunnel {
			dash = "4 3"
		}
		g.line(g.x(a), y+3, g.x(b), y+3, 1.5, dash)
		g.line(g.x(a), y+9, g.x(b), y+9, 1.5, dash)
		g.text((g.x(a)+g.x(b))/2, y+22, 12, "middle", false, st.Kind.String())
	}
	y += 28
	g.text(g.left-8, y+11, 12, "end", false, "curves")
	for _, b := range t.Curves {
		x1, x2 := g.x(b.FromM), math.Max(g.x(b.ToM), g.x(b.FromM)+4)
		fmt.Fprintf(&g.b, `<path stroke-width="1.5" d="M%.1f %.1fQ%.1f %.1f %.1f %.1f"/>`+"\n", x1, y+12, (x1+x2)/2, y-6, x2, y+12)
		g.text((x1+x2)/2, y+26, 12, "middle", false, "R "+wholeLength(b.RadiusM, g.u))
	}
	g.keyTop = math.Max(g.keyTop, y+80)
}

// wholeLength writes a length as whole feet or metres.
func wholeLength(lengthM float64, u catalog.Units) string {
	unit := wording.HeightUnit(u)
	return wording.Thousands(lengthM/unit.Factor) + " " + unit.Name
}
