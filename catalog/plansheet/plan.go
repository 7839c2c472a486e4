package plansheet

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

// planPage draws one stretch in plan and in profile.
func (d *drafter) planPage(i int) {
	s := d.stretches[i]
	p := &page{widthMM: d.widthMM, heightMM: d.heightMM, title: fmt.Sprintf("Plan and profile, stations %s to %s", d.station(d.course.StationM(s.fromM)), d.station(d.course.StationM(s.toM)))}
	d.pages = append(d.pages, p)
	v := d.placed(s)
	p.layer = layerRoad
	d.road(p, &v)
	p.layer = layerStations
	var joins []point
	if i > 0 {
		joins = append(joins, v.at[0])
	}
	if i < len(d.stretches)-1 {
		joins = append(joins, v.at[len(v.at)-1])
	}
	d.stationTicks(p, &v, s, joins)
	d.planMarks(p, &v, s)
	p.layer = layerStations
	if i > 0 {
		d.matchLine(p, v.at[0], fmt.Sprintf("joins sheet %d", i))
	}
	if i < len(d.stretches)-1 {
		d.matchLine(p, v.at[len(v.at)-1], fmt.Sprintf("joins sheet %d", i+2))
	}
	p.layer = layerProfile
	d.profile(p, s)
	p.layer = layerText
	y := d.northAndScale(p, &v)
	y = d.legend(p, y)
	d.postList(p, s, y)
	p.scale = d.scaleWords()
}

// scaleWords writes the scale as usual on drawings.
func (d *drafter) scaleWords() string {
	if d.u == catalog.US {
		return fmt.Sprintf("plan 1 in = %.0f ft on 11 by 17 in", d.scale/12)
	}
	return fmt.Sprintf("plan 1 : %.0f on A3", d.scale)
}

// placed is a stretch's view, moved to the middle of the plan.
func (d *drafter) placed(s span) view {
	n := max(2, int(math.Ceil((s.toM-s.fromM)/(0.5*d.scale/1000)))) // half a mm
	n = min(n, 4000)
	x := make([]float64, n+1)
	for k := range x {
		x[k] = s.fromM + (s.toM-s.fromM)*float64(k)/float64(n)
	}
	v := d.view(s, x, d.scale)
	b := d.planBox()
	v.move = point{b.x + b.w/2 - (v.least.x+v.most.x)/2, b.y + b.h/2 - (v.least.y+v.most.y)/2}
	for k := range v.at {
		v.at[k] = point{v.at[k].x + v.move.x, v.at[k].y + v.move.y}
	}
	return v
}

// road draws the two edges of the travelled way, at least a mm apart, and its line.
func (d *drafter) road(p *page, v *view) {
	half := math.Max(0.5, d.sch.Road.EdgeM*v.mmPerM)
	var left, right []point
	for k := range v.at {
		n := v.normal(k)
		left = append(left, point{v.at[k].x - n.x*half, v.at[k].y - n.y*half})
		right = append(right, point{v.at[k].x + n.x*half, v.at[k].y + n.y*half})
	}
	p.line(0.35, 0, left...)
	p.line(0.35, 0, right...)
	if half > 0.8 {
		p.line(0.15, 2, v.at...)
	}
}

// normal points to the right of travel at a place of the view, one mm long.
func (v *view) normal(k int) point {
	a, b := v.at[max(0, k-1)], v.at[min(len(v.at)-1, k+1)]
	l := math.Hypot(b.x-a.x, b.y-a.y)
	if l == 0 {
		return point{0, 1}
	}
	return point{-(b.y - a.y) / l, (b.x - a.x) / l}
}

// index is the view's place nearest to a distance past the crest.
func (v *view) index(pastM float64) int {
	n := len(v.x) - 1
	k := int(math.Round((pastM - v.x[0]) / (v.x[n] - v.x[0]) * float64(n)))
	return min(max(k, 0), n)
}

// away points from the road to the side on which fewer posts stand, for words that no mark covers.
func (d *drafter) away(n point) point {
	left := 0
	for _, p := range d.sch.Posts {
		if p.Side == "left" {
			left++
		}
	}
	if 2*left > len(d.sch.Posts) {
		return n
	}
	return point{-n.x, -n.y}
}

// stationTicks marks round stations across the road.
func (d *drafter) stationTicks(p *page, v *view, s span, joins []point) {
	unit, _ := d.unit()
	step := roundStep((s.toM-s.fromM)/unit, 10) * unit
	a, b := d.course.StationM(s.fromM), d.course.StationM(s.toM)
	for st := math.Ceil(math.Min(a, b)/step) * step; st <= math.Max(a, b); st += step {
		k := v.index(d.course.PastM(st))
		c, n := v.at[k], v.normal(k)
		p.line(0.2, 0, point{c.x - 2.2*n.x, c.y - 2.2*n.y}, point{c.x + 2.2*n.x, c.y + 2.2*n.y})
		o := d.away(n)
		angle := math.Mod(-math.Atan2(o.y, o.x)*180/math.Pi+360, 360)
		anchor, x, y := "start", c.x+3*o.x, c.y+3*o.y
		if angle > 90 && angle <= 270 {
			angle, anchor = angle-180, "end"
		}
		if words := d.station(st); !crossesJoin(c, o, words, joins) {
			p.turned(x, y, 2.3, angle, anchor, words)
		}
	}
}

// crossesJoin reports whether a station's label, which begins at a tick and goes the way of o, would
// stand in the line that names the next sheet. Its station is then in the profile alone.
func crossesJoin(tick, o point, words string, joins []point) bool {
	long := 3 + 1.4*float64(len(words)) // about the label's end, in mm
	for _, j := range joins {
		a, b := tick.x+3*o.x, tick.x+long*o.x
		if j.x > min(a, b)-1.5 && j.x < max(a, b)+1.5 && math.Abs(tick.y-j.y) < joinMM+long {
			return true
		}
	}
	return false
}

// joinMM is half the length of the line that names the next sheet.
const joinMM = 9

// matchLine names the sheet on which the road continues.
func (d *drafter) matchLine(p *page, c point, words string) {
	p.line(0.25, 1.2, point{c.x, c.y - joinMM}, point{c.x, c.y + joinMM})
	p.text(c.x, c.y+12, 2.2, "middle", false, words)
}

// mark is a post's mark on the drawing.
type mark struct {
	post signs.Post
	at   point
	foot point
}

const markMM = 3.4 // half the width of a mark

// edge is where the line from the post ends: short of the mark, whose number stays legible where
// nothing can be covered.
func (m *mark) edge() point {
	dx, dy := m.foot.x-m.at.x, m.foot.y-m.at.y
	l := math.Hypot(dx, dy)
	if l < markMM {
		return m.foot
	}
	return point{m.at.x + dx/l*markMM, m.at.y + dy/l*markMM}
}

// planMarks draws each post's mark on its side of the road, clear of the others.
func (d *drafter) planMarks(p *page, v *view, s span) {
	var marks []mark
	b := d.planBox()
	for _, post := range d.sch.Posts {
		x := d.course.PastM(post.StationM)
		if x < s.fromM-1e-6 || x > s.toM+1e-6 {
			continue
		}
		k := v.index(x)
		n := v.normal(k)
		if post.Side == "left" {
			n = point{-n.x, -n.y}
		}
		m := mark{post: post, foot: v.at[k]}
		if post.OnLine {
			q := d.course.PlanOfM(v.originM, post.LonDeg, post.LatDeg)
			m.foot = v.onPaper(q[0], q[1])
		}
		for level := range 9 {
			far := 10 + 3.2*float64(level)
			m.at = point{v.at[k].x + n.x*far, v.at[k].y + n.y*far}
			if isClear(m.at, marks, v, b) && !d.isAtJoint(m.at, v, s) {
				break
			}
		}
		marks = append(marks, m)
	}
	p.layer = layerLeaders
	for _, m := range marks {
		p.line(0.18, 0, m.foot, m.edge())
		p.circle(m.foot, 0.6, 0.15, 0)
	}
	for _, m := range marks {
		drawMark(p, m.post, m.at)
	}
}

// isAtJoint reports whether a mark would cover the line to another sheet or its words.
func (d *drafter) isAtJoint(c point, v *view, s span) bool {
	const halfWordsMM, downMM = 9, 13
	near := func(q point) bool {
		return math.Abs(c.x-q.x) < halfWordsMM+markMM && math.Abs(c.y-q.y) < downMM+markMM
	}
	return s.fromM > d.all.fromM+1e-6 && near(v.at[0]) || s.toM < d.all.toM-1e-6 && near(v.at[len(v.at)-1])
}

// isClear reports whether a mark would touch no other, nor the road, nor the plan's edge.
func isClear(c point, marks []mark, v *view, b box) bool {
	for _, m := range marks {
		if math.Hypot(c.x-m.at.x, c.y-m.at.y) < 2*markMM+2.4 {
			return false
		}
	}
	for _, q := range v.at {
		if math.Hypot(c.x-q.x, c.y-q.y) < markMM+1.5 {
			return false
		}
	}
	return c.x > b.x+markMM && c.x < b.x+b.w-markMM && c.y > b.y+markMM && c.y < b.y+b.h-markMM
}

// drawMark draws a post: the shape is that of its first face; the outline shows the action.
func drawMark(p *page, post signs.Post, c point) {
	defer func(was string) { p.layer = was }(p.layer)
	p.layer = layerPosts + strings.ToUpper(post.Action)
	shape, r := signs.ShapeRectangle, markMM
	if len(post.Faces) > 0 {
		shape = post.Faces[0].Shape
	}
	outline := func(r float64) []point {
		switch shape {
		case signs.ShapeDiamond:
			r *= 1.2
			return []point{{c.x - r, c.y}, {c.x, c.y - r}, {c.x + r, c.y}, {c.x, c.y + r}}
		case signs.ShapeTriangle:
			r *= 1.35
			return []point{{c.x - r, c.y + 0.62*r}, {c.x, c.y - 1.08*r}, {c.x + r, c.y + 0.62*r}}
		case signs.ShapeCircle:
			var pts []point
			for i := range 24 {
				a := float64(i) / 24 * 2 * math.Pi
				pts = append(pts, point{c.x + r*math.Cos(a), c.y + r*math.Sin(a)})
			}
			return pts
		}
		return []point{{c.x - r, c.y - 0.75*r}, {c.x + r, c.y - 0.75*r}, {c.x + r, c.y + 0.75*r}, {c.x - r, c.y + 0.75*r}}
	}
	width, dash := 0.6, 0.0
	switch post.Action {
	case signs.ActionKeep, signs.ActionLeave, signs.ActionRemove:
		width = 0.2
	case signs.ActionDecide:
		width, dash = 0.4, 0.9
	}
	pts := outline(r)
	p.area(0, 255, pts...)
	p.items = append(p.items, stroke{pts: pts, widthMM: width, dashMM: dash, isClosed: true, fill: noFill, layer: p.layer})
	switch post.Action {
	case signs.ActionMove, signs.ActionReplace:
		p.items = append(p.items, stroke{pts: outline(r - 0.9), widthMM: 0.2, isClosed: true, fill: noFill, layer: p.layer})
	case signs.ActionRemove:
		p.line(0.35, 0, point{c.x - r, c.y - r}, point{c.x + r, c.y + r})
		p.line(0.35, 0, point{c.x - r, c.y + r}, point{c.x + r, c.y - r})
	}
	number := ""
	if post.Number > 0 { // not used in the legend
		number = fmt.Sprint(post.Number)
	}
	if isInDoubt(&post) {
		number += "?"
	}
	if post.Action == signs.ActionRemove {
		p.text(c.x+r+0.8, c.y+0.95, 2.6, "start", true, number)
		return
	}
	p.text(c.x, c.y+0.95, 2.6, "middle", true, number)
}

// isInDoubt reports whether the terrain cannot show if a sign on the post is warranted.
func isInDoubt(post *signs.Post) bool {
	for _, f := range post.Faces {
		if f.Need == signs.NeedCantTell {
			return true
		}
	}
	return false
}
