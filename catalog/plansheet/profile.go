package plansheet

import (
	"fmt"
	"math"

	"gradeline/catalog/signs"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// profileGrid holds the scales of the profile.
type profileGrid struct {
	box
	s           span
	lowM, highM float64
}

func (g *profileGrid) px(pastM float64) float64 {
	return g.x + g.w*(pastM-g.s.fromM)/(g.s.toM-g.s.fromM)
}
func (g *profileGrid) py(heightM float64) float64 {
	return g.y + g.h - g.h*(heightM-g.lowM)/(g.highM-g.lowM)
}

// profile draws the grade line of a stretch with its posts. Below it are a table of stations and
// heights, and bands for warrants, structures and curves.
func (d *drafter) profile(p *page, s span) {
	b := d.profileBox()
	p.line(0.25, 0, point{b.x, b.y}, point{b.x + b.w, b.y})
	g := &profileGrid{box: box{b.x + 22, b.y + 27, b.w - 28, b.h - 27 - 46}, s: s}
	d.heights(g)
	d.heightLines(p, g)
	d.gradeLine(p, g)
	y := d.stationTable(p, g, g.y+g.h)
	d.bands(p, g, y)
	d.profileMarks(p, g)
	p.text(b.x+2, b.y+4, 2.4, "start", true, "Profile on the grade line")
}

// heights finds the least and the greatest height, with a margin.
func (d *drafter) heights(g *profileGrid) {
	g.lowM, g.highM = math.Inf(1), math.Inf(-1)
	for k := range 401 {
		if h := d.course.ElevationM(g.s.fromM + (g.s.toM-g.s.fromM)*float64(k)/400); !math.IsNaN(h) {
			g.lowM, g.highM = math.Min(g.lowM, h), math.Max(g.highM, h)
		}
	}
	if math.IsInf(g.lowM, 0) {
		g.lowM, g.highM = 0, 1
	}
	pad := math.Max(2, 0.06*(g.highM-g.lowM))
	g.lowM, g.highM = g.lowM-pad, g.highM+pad
}

func (d *drafter) heightLines(p *page, g *profileGrid) {
	unit, name := d.unit()
	step := roundStep((g.highM-g.lowM)/unit, 7)
	for h := math.Ceil(g.lowM/unit/step) * step; h*unit <= g.highM; h += step {
		y := g.py(h * unit)
		p.line(0.1, 1, point{g.x, y}, point{g.x + g.w, y})
		p.text(g.x-1.5, y+0.9, 2.6, "end", false, wording.Thousands(h+0))
	}
	p.text(g.x-1.5, g.y-1.5, 2.4, "end", false, name)
	p.rect(g.x, g.y, g.w, g.h, 0.2, noFill)
}

func (d *drafter) gradeLine(p *page, g *profileGrid) {
	var pts []point
	flush := func() {
		if len(pts) > 1 {
			p.line(0.6, 0, pts...)
		}
		pts = nil
	}
	for k := range 601 {
		x := g.s.fromM + (g.s.toM-g.s.fromM)*float64(k)/600
		h := d.course.ElevationM(x)
		if math.IsNaN(h) {
			flush()
			continue
		}
		pts = append(pts, point{g.px(x), g.py(h)})
	}
	flush()
	for _, e := range []struct {
		x    float64
		name string
	}{{0, "crest"}, {d.course.LengthM, "foot"}} {
		if e.x < g.s.fromM-1e-6 || e.x > g.s.toM+1e-6 {
			continue
		}
		x, anchor, dx := g.px(e.x), "start", 1.0
		if x > g.x+g.w-14 {
			anchor, dx = "end", -1
		}
		p.line(0.25, 2, point{x, g.y}, point{x, g.y + g.h})
		p.text(x+dx, g.y+g.h-1.5, 2.5, anchor, true, e.name)
	}
}

// stationTable writes stations, mileposts, heights and the downgrade to the next station below the
// profile, and returns its lower end.
func (d *drafter) stationTable(p *page, g *profileGrid, y float64) float64 {
	unit, name := d.unit()
	step := roundStep((g.s.toM-g.s.fromM)/unit, 14) * unit
	rowMM := 4.0
	words := []string{"station", "height, " + name, "downgrade, %"}
	if d.sch.Mileposts.IsKnown() {
		words = append(words, "milepost")
	}
	for i, w := range words {
		p.text(g.x-1.5, y+rowMM*float64(i)+3, 2.2, "end", false, w)
		p.line(0.1, 0, point{g.x - 21, y + rowMM*float64(i+1)}, point{g.x + g.w, y + rowMM*float64(i+1)})
	}
	a, b := d.course.StationM(g.s.fromM), d.course.StationM(g.s.toM)
	for st := math.Ceil(math.Min(a, b)/step) * step; st <= math.Max(a, b); st += step {
		past := d.course.PastM(st)
		x := g.px(past)
		p.line(0.2, 0, point{x, y}, point{x, y + 1})
		p.text(x, y+3.2, 2.3, "middle", false, d.station(st))
		if h := d.course.ElevationM(past); !math.IsNaN(h) {
			p.text(x, y+rowMM+3, 2.3, "middle", false, wording.Thousands(math.Round(h/unit)+0))
			if to := past + step; to <= g.s.toM+1e-6 {
				if h2 := d.course.ElevationM(to); !math.IsNaN(h2) {
					p.text((x+g.px(to))/2, y+2*rowMM+3, 2.3, "middle", false, fmt.Sprintf("%.1f", 100*(h-h2)/step+0))
				}
			}
		}
		p.text(x, y+3*rowMM+3, 2.3, "middle", false, d.sch.Mileposts.Words(st))
	}
	return y + rowMM*float64(len(words)) + 1
}

// bands draws the warrants, the structures and the curves along the stretch.
func (d *drafter) bands(p *page, g *profileGrid, y float64) {
	row := func(name string) {
		p.text(g.x-1.5, y+3, 2.2, "end", false, name)
	}
	clip := func(fromM, toM float64) (x, w float64, ok bool) {
		a, b := math.Max(fromM, g.s.fromM), math.Min(toM, g.s.toM)
		return g.px(a), g.px(b) - g.px(a), b > a
	}
	row("warrants")
	const highMM = 2.6
	lines := 0
	for i := range d.sch.Stretches {
		st := &d.sch.Stretches[i]
		x, w, ok := clip(d.course.PastM(st.FromM), d.course.PastM(st.ToM))
		if !ok || !st.Verdict.CallsForSign() || lines == 3 {
			continue
		}
		if st.Verdict == signs.Warranted {
			p.rect(x, y+0.6, w, highMM, 0.2, 120)
		} else {
			p.hatched(x, y+0.6, w, highMM)
		}
		words := fmt.Sprintf("%s %s: %.1f ± %.1f %%", st.Warrant, st.Verdict, st.MeanPct, math.Ceil(10*st.MeanErrPct-1e-9)/10)
		p.text(x+w/2, y+6, 2.2, "middle", false, words)
		y += 7
		lines++
	}
	if lines == 0 {
		y += 7
	}
	row("structures")
	for _, st := range d.course.Structures {
		if x, w, ok := clip(st.FromM, st.ToM); ok {
			dash := 0.0
			if st.Kind == routes.Tunnel {
				dash = 1
			}
			w = math.Max(w, 1)
			p.line(0.4, dash, point{x, y + 1}, point{x + w, y + 1})
			p.line(0.4, dash, point{x, y + 2.6}, point{x + w, y + 2.6})
			p.text(x+w+1, y+2.8, 2.2, "start", false, st.Kind.String())
		}
	}
	y += 5
	row("curves")
	free := g.x
	for _, c := range d.course.Curves {
		x, w, ok := clip(c.FromM, c.ToM)
		if !ok {
			continue
		}
		w = math.Max(w, 1.2)
		p.line(0.4, 0, point{x, y + 2.8}, point{x + w/2, y + 0.8}, point{x + w, y + 2.8})
		unit, name := d.unit()
		words := fmt.Sprintf("R %s %s", wording.Thousands(c.RadiusM/unit), name)
		if half := widthMM(words, 2.2, false) / 2; x+w/2-half >= free {
			p.text(x+w/2, y+5.6, 2.2, "middle", false, words)
			free = x + w/2 + half + 1
		}
	}
}

// profileMarks draws the posts' marks over the profile, each in the first free row.
func (d *drafter) profileMarks(p *page, g *profileGrid) {
	free := [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	var marks []mark
	for _, post := range d.sch.Posts {
		x := d.course.PastM(post.StationM)
		if x < g.s.fromM-1e-6 || x > g.s.toM+1e-6 {
			continue
		}
		px, level := g.px(x), 0
		for i := range free {
			if px-markMM*1.2 >= free[i] {
				level = i
				break
			}
			if free[i] < free[level] {
				level = i
			}
		}
		free[level] = px + markMM*1.2 + 0.6
		foot := g.y + g.h
		if h := d.course.ElevationM(x); !math.IsNaN(h) {
			foot = g.py(h)
		}
		marks = append(marks, mark{post, point{px, g.y - 4.4 - 7.6*float64(level)}, point{px, foot}})
	}
	for _, m := range marks {
		p.line(0.15, 0, m.edge(), m.foot)
	}
	for _, m := range marks {
		drawMark(p, m.post, m.at)
	}
}
