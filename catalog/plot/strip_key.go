package plot

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog/signs"
	"gradeline/catalog/wording"
)

// marks draws the numbered marks on leaders, each on the first level where it
// does not touch the one before it.
func (g *strip) marks() {
	t := &g.course
	free := make([]float64, stripLevels)
	for i := range free {
		free[i] = math.Inf(-1)
	}
	const half = 13.0
	var shapes []func() // over all leaders
	for _, p := range g.s.Placements {
		past := t.PastM(p.StationM)
		x := g.x(past)
		level := 0
		for i := range free {
			if x-half-3 >= free[i] {
				level = i
				break
			}
			if free[i] < free[level] {
				level = i
			}
		}
		free[level] = x + half
		y := g.top - 34 - 30*float64(level)
		foot := g.bottom
		if h := t.ElevationM(past); !math.IsNaN(h) {
			foot = g.y(h)
		}
		dash := ""
		if len(p.Conflicts) > 0 {
			dash = "3 3"
		}
		g.line(x, y+half-2, x, foot, 0.8, dash)
		shapes = append(shapes, func() {
			g.shape(p, x, y, half)
			g.text(x, y+5, 13, "middle", len(p.Conflicts) > 0, fmt.Sprint(p.Number))
		})
	}
	for _, draw := range shapes {
		draw()
	}
}

func (g *strip) shape(p signs.Placement, x, y, r float64) {
	width := 1.5
	if len(p.Conflicts) > 0 {
		width = 3
	}
	switch {
	case p.Need == signs.NeedAdvice:
		fmt.Fprintf(&g.b, `<circle cx="%.1f" cy="%.1f" r="%.1f" fill="white" stroke-width="%.1f"/>`+"\n", x, y, r-2, width)
	case p.Role == signs.RoleRamp || p.Role == signs.RoleRampAdvance:
		fmt.Fprintf(&g.b, `<path d="M%.1f %.1fL%.1f %.1fL%.1f %.1fZ" fill="white" stroke-width="%.1f"/>`+"\n", x-r-1, y+r-4, x+r+1, y+r-4, x, y-r-3, width)
	case p.Role == signs.RoleCheck || p.Role == signs.RoleCheckAdvance || p.Role == signs.RoleEnd:
		fmt.Fprintf(&g.b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="white" stroke-width="%.1f"/>`+"\n", x-r+2, y-r+2, 2*r-4, 2*r-4, width)
	default:
		fmt.Fprintf(&g.b, `<path d="M%.1f %.1fL%.1f %.1fL%.1f %.1fL%.1f %.1fZ" fill="white" stroke-width="%.1f"/>`+"\n", x-r-1, y, x, y-r-1, x+r+1, y, x, y+r+1, width)
	}
}

// key lists the signs, the panel and the choices under the plan.
func (g *strip) key() {
	y := g.keyTop
	g.text(g.left, y-26, 12, "start", false, "Diamond: warns. Square: informs. Triangle: escape ramp. Circle: advice to an engineer. Band under the axis: black warranted, hatched can't tell from this terrain.")
	cols := []float64{g.left, g.left + 40, g.left + 150, g.left + 330, g.left + 690, g.left + 830, g.left + 970}
	for i, h := range []string{"no.", "station", "designation", "sign", "legend"} {
		x := cols[i]
		if i == 4 {
			x = cols[4] - 20
		}
		g.text(x, y, 13, "start", true, h)
	}
	g.text(cols[6]+20, y, 13, "start", true, "ground; conflicts (thick mark, dashed leader)")
	for _, p := range g.s.Placements {
		y += 20
		unit := wording.HeightUnit(g.u)
		station := fmt.Sprintf("%.0f %s", math.Round(p.StationM/unit.Factor)+0, unit.Name) // no minus zero
		codes := strings.Join(append([]string{p.Designation}, p.Plaques...), " + ")
		g.text(cols[0], y, 13, "start", false, fmt.Sprint(p.Number))
		g.text(cols[1], y, 13, "start", false, station+" "+p.Side)
		g.text(cols[2], y, 13, "start", false, cut(codes, 22))
		g.text(cols[3], y, 13, "start", false, cut(p.Name, 44))
		g.text(cols[4]-20, y, 13, "start", false, cut(p.Legend, 40))
		var kinds []string
		for _, c := range p.Conflicts {
			kinds = append(kinds, c.Kind)
		}
		note := p.Need
		if len(kinds) > 0 {
			note += "; " + strings.Join(kinds, ", ")
		}
		g.text(cols[6]+20, y, 13, "start", false, cut(note, 80))
	}
	if len(g.s.Panel) > 0 {
		y += 6
		for _, l := range g.panelLines() {
			y += 20
			g.text(g.left, y, 13, "start", true, l)
		}
	}
	y += 8
	for _, c := range g.s.Choices {
		y += 18
		g.text(g.left, y, 12, "start", false, fmt.Sprintf("Choice %s = %s: %s", c.Name, c.Option, c.Words))
	}
}

// panelLines breaks the panel between its rows, never inside one, into lines that
// the plan is wide enough for: a bold letter of 13 units takes up to 8.1.
func (g *strip) panelLines() []string {
	most := int((stripWidth - g.left - 20) / 8.1)
	var out []string
	line := "Panel, advice to an engineer: "
	for i, r := range g.s.Panel {
		word := r.Legend
		if i < len(g.s.Panel)-1 {
			word += "; "
		}
		if i > 0 && len([]rune(line))+len([]rune(word)) > most {
			out, line = append(out, strings.TrimRight(line, " ")), ""
		}
		line += word
	}
	return append(out, line)
}

// cut shortens a text for the key; the table has it whole.
func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
