package plansheet

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

// column is the column at the right of a sheet, above the title block.
func (d *drafter) column() box {
	x := d.widthMM - marginMM - columnMM
	return box{x, marginMM, columnMM, d.heightMM - 2*marginMM - titleMM}
}

// frame draws the sheet's edge and its title block.
func (d *drafter) frame(p *page, number, of int) {
	p.layer = layerFrame
	p.rect(marginMM, marginMM, d.widthMM-2*marginMM, d.heightMM-2*marginMM, 0.7, noFill)
	c := d.column()
	p.line(0.35, 0, point{c.x, marginMM}, point{c.x, d.heightMM - marginMM})
	y := c.y + c.h
	p.line(0.5, 0, point{c.x, y}, point{c.x + c.w, y})
	x, wide := c.x+2, c.w-4
	p.text(x, y+5.5, 4, "start", true, cut(d.s.name(), wide, 4, true))
	p.text(x, y+10, 2.8, "start", false, cut(fmt.Sprintf("Hill signs, %s travel, descent %s", d.sch.Direction, d.sch.DescentID), wide, 2.8, false))
	p.text(x, y+14.5, 2.8, "start", true, cut(p.title, wide, 2.8, true))
	lines := []string{
		"Rules: " + d.sch.Title,
		"Road: " + d.sch.Road.Words,
		fmt.Sprintf("Approach %s; posts %s from the travelled way, %s from the line", d.u.Speed(d.sch.ApproachMPS), d.length(d.sch.Road.OffsetM), d.length(d.sch.Road.EdgeM+d.sch.Road.OffsetM)),
	}
	if p.scale != "" {
		lines = append(lines, "Scale: "+p.scale)
	}
	if d.sch.Road.HeightM > 0 {
		lines[1] += fmt.Sprintf("; lowest edge of signs %s over it", d.length(d.sch.Road.HeightM))
	}
	lines = append(lines, d.s.Source)
	ly := y + 18.5
	for _, l := range lines {
		for i, part := range wrap(l, wide, 2.2) {
			if i > 2 || ly > y+titleMM-12 {
				break
			}
			p.text(x, ly, 2.2, "start", false, part)
			ly += 2.9
		}
	}
	foot := y + titleMM - 10.5
	p.line(0.25, 0, point{c.x, foot}, point{c.x + c.w, foot})
	for i, cell := range []string{"drawn by " + cut(d.s.Tool, 26, 2.2, false), "checked", "approved (P.E.)"} {
		cx := c.x + c.w/3*float64(i)
		if i > 0 {
			p.line(0.2, 0, point{cx, foot}, point{cx, foot + 10.5})
		}
		p.text(cx+1.5, foot+3, 2.2, "start", false, cell)
	}
	date := ""
	if !d.s.Made.IsZero() {
		date = d.s.Made.Format("2006-01-02")
	}
	p.text(c.x+1.5, foot+8.5, 2.4, "start", false, date)
	p.text(c.x+c.w-1.5, foot+8.5, 3, "end", true, fmt.Sprintf("sheet %d of %d", number, of))
	p.text(marginMM, d.heightMM-marginMM+4, 2.3, "start", false, catalog.SignCaution)
	if d.s.Invented {
		p.text(marginMM, marginMM-2.5, 3, "start", true, "INVENTED DEMONSTRATION: no such road exists. Nothing is to be built by this.")
	}
}

// northAndScale draws the north arrow and the scale bar at the top of the column, and returns their
// lower end.
func (d *drafter) northAndScale(p *page, v *view) float64 {
	c := d.column()
	o := point{c.x + 14, c.y + 14}
	sin, cos := math.Sincos(v.turn)
	up := point{-sin, -cos} // north on paper
	side := point{cos, -sin}
	at := func(a, b float64) point { return point{o.x + up.x*a + side.x*b, o.y + up.y*a + side.y*b} }
	p.area(0.25, 0, at(9, 0), at(-7, -3.2), at(-4, 0))
	p.area(0.25, 255, at(9, 0), at(-7, 3.2), at(-4, 0))
	tip := at(11.5, 0)
	p.text(tip.x, tip.y+1.2, 3.2, "middle", true, "N")
	unit, name := d.unit()
	step := roundPart(60/v.mmPerM/unit, 4)
	x, y := c.x+32, c.y+11
	for i := range 4 {
		w := step * unit * v.mmPerM
		p.rect(x+float64(i)*w, y, w, 1.8, 0.2, []int{0, 255}[i%2])
		p.text(x+float64(i)*w, y-1, 2.2, "middle", false, fmt.Sprintf("%.0f", step*float64(i)))
	}
	p.text(x+4*step*unit*v.mmPerM, y-1, 2.2, "middle", false, fmt.Sprintf("%.0f %s", 4*step, name))
	p.text(x, y+6, 2.4, "start", false, d.scaleWords())
	p.text(x, y+9.5, 2.2, "start", false, "true north; travel runs from left to right")
	p.line(0.25, 0, point{c.x, c.y + 28}, point{c.x + c.w, c.y + 28})
	return c.y + 28
}

// legend explains the marks, and returns its lower end.
func (d *drafter) legend(p *page, y float64) float64 {
	c := d.column()
	rows := []struct{ action, words string }{
		{signs.ActionInstall, "install"}, {signs.ActionMove, "move here, or replace the face"}, {signs.ActionKeep, "keep, or leave"},
		{signs.ActionRemove, "remove"}, {signs.ActionDecide, "an engineer decides first; ? where the terrain cannot show it"},
	}
	shape := signs.ShapeDiamond
	for _, post := range d.sch.Posts {
		for _, f := range post.Faces {
			if f.Shape == signs.ShapeTriangle {
				shape = f.Shape
			}
		}
	}
	x := []float64{c.x + 6, c.x + 27, c.x + 70, c.x + 6, c.x + 27}
	for i, r := range rows {
		ry := y + 6
		if i > 2 {
			ry += 9
		}
		post := signs.Post{Action: r.action, Faces: []signs.Face{{Shape: shape}}}
		drawMark(p, post, point{x[i], ry})
		p.text(x[i]+5.5, ry+0.9, 2.2, "start", false, r.words)
	}
	note := "A number is the post's, in travel. Stations count from the road line's first vertex, "
	if d.u == catalog.US {
		note += "hundreds of feet before the plus."
	} else {
		note += "kilometres before the plus."
	}
	ly := y + 22.5
	for _, l := range wrap(note, c.w-4, 2.2) {
		p.text(c.x+2, ly, 2.2, "start", false, l)
		ly += 2.8
	}
	p.line(0.25, 0, point{c.x, ly - 0.8}, point{c.x + c.w, ly - 0.8})
	return ly - 0.8
}

// postList lists the posts of a stretch in the column, as far as they fit.
func (d *drafter) postList(p *page, s span, y float64) {
	c := d.column()
	y += 4
	p.text(c.x+2, y, 2.6, "start", true, "Posts on this sheet")
	for _, post := range d.sch.Posts {
		x := d.course.PastM(post.StationM)
		if x < s.fromM-1e-6 || x > s.toM+1e-6 {
			continue
		}
		if y+8.2 > c.y+c.h {
			p.text(c.x+c.w-2, c.y+c.h-1, 2.2, "end", false, "and more: see the list")
			return
		}
		y += 4.2
		place := d.station(post.StationM)
		if post.Milepost != nil {
			place += fmt.Sprintf(" (MP %.2f)", *post.Milepost)
		}
		p.text(c.x+8, y, 2.4, "end", true, fmt.Sprint(post.Number))
		p.text(c.x+10, y, 2.4, "start", true, place)
		p.text(c.x+50, y, 2.4, "start", false, post.Side)
		p.text(c.x+c.w-2, y, 2.4, "end", true, strings.ToUpper(post.Action))
		y += 3.2
		p.text(c.x+10, y, 2.2, "start", false, cut(faceWords(post.Faces), c.w-12, 2.2, false))
	}
}

// faceWords names the signs on a post: designations, then legends.
func faceWords(faces []signs.Face) string {
	var codes, legends []string
	for _, f := range faces {
		codes = append(codes, f.Designation)
		if f.Legend != "" {
			legends = append(legends, f.Legend)
		}
	}
	return strings.Join(codes, " + ") + "  " + strings.Join(legends, "; ")
}
