package plot

import (
	"sort"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"gradeline/catalog/wording"
)

// keyLine explains one line of a plot.
type keyLine struct {
	line draw.LineStyle
	says string
}

// frame puts panels on a page of their own: head lines above (the first in
// bold), a key and small print below.
func frame(head []string, invented bool, ps []*plot.Plot, heights []vg.Length, key []keyLine, foot []string) Figure {
	const width = 7.5 * vg.Inch
	title, label, small := typeface(12, true), typeface(9, false), typeface(7.5, false)
	inner := width - vg.Points(16)
	alt := strings.Join(head, ". ")
	if invented {
		head = append([]string{head[0], wording.InventedBanner}, head[1:]...)
		alt = wording.InventedBanner + " " + alt
	}
	ruler := func(sty text.Style, lines []string) vg.Length {
		return smallPrint(draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: inner}}}, sty, lines, false)
	}
	headHeight := vg.Points(16) + ruler(label, head[1:]) + vg.Points(6)
	keyHeight := vg.Length(len(key)) * vg.Points(13)
	total := headHeight + keyHeight + ruler(small, foot) + vg.Points(14)
	for _, h := range heights {
		total += h
	}
	return Figure{width, total, alt, func(c draw.Canvas) {
		c.FillPolygon(inkWhite, box(0, 0, width, total))
		in := draw.Crop(c, vg.Points(8), -vg.Points(8), vg.Points(4), -vg.Points(4))
		c.FillText(title, vg.Point{X: in.Min.X, Y: in.Max.Y - vg.Points(13)}, wording.Plain(head[0]))
		rest := in
		rest.Max.Y -= vg.Points(16)
		smallPrint(rest, label, head[1:], true)
		body := in
		body.Max.Y = in.Max.Y - headHeight
		stack(body, ps, heights)
		y := body.Max.Y - vg.Points(4)
		for _, h := range heights {
			y -= h
		}
		for _, k := range key {
			y -= vg.Points(13)
			c.StrokeLine2(k.line, in.Min.X, y+vg.Points(3), in.Min.X+vg.Points(34), y+vg.Points(3))
			c.FillText(label, vg.Point{X: in.Min.X + vg.Points(40), Y: y}, wording.Plain(k.says))
		}
		rest.Max.Y = y - vg.Points(3)
		smallPrint(rest, small, foot, true)
	}}
}

// placed is a mark with its place on the page and the row of its label.
type placed struct {
	x0, x1, textX vg.Length
	row           int
	label         string
}

// placeMarks puts each mark in the lowest row where its label overlaps no other.
func placeMarks(marks []placed, sty text.Style, left, right vg.Length) (out []placed, rows int) {
	sort.SliceStable(marks, func(i, j int) bool { return marks[i].x0+marks[i].x1 < marks[j].x0+marks[j].x1 })
	var ends []vg.Length // of each row
	for _, m := range marks {
		wide := sty.Width(m.label)
		m.textX = max(left, min((m.x0+m.x1)/2-wide/2, right-wide))
		from, to := min(m.textX, m.x0), max(m.textX+wide, m.x1)
		for m.row = 0; m.row < len(ends) && ends[m.row]+vg.Points(8) > from; m.row++ {
		}
		if m.row == len(ends) {
			ends = append(ends, 0)
		}
		ends[m.row] = to
		out = append(out, m)
	}
	return out, len(ends)
}

// smallPrint writes lines of text from the top of c down, wrapped to its width, and returns their
// height.
func smallPrint(c draw.Canvas, sty text.Style, lines []string, ink bool) vg.Length {
	y := c.Max.Y
	lead := sty.Font.Size * 1.25
	for _, l := range lines {
		for _, row := range fit(sty, wording.Plain(l), c.Max.X-c.Min.X) {
			y -= lead
			if ink {
				c.FillText(sty, vg.Point{X: c.Min.X, Y: y}, row)
			}
		}
	}
	return c.Max.Y - y
}

// fit breaks text at spaces into rows no wider than width.
func fit(sty text.Style, s string, width vg.Length) []string {
	var rows []string
	cur := ""
	for _, word := range strings.Fields(s) {
		next := strings.TrimSpace(cur + " " + word)
		if cur != "" && sty.Width(next) > width {
			rows, next = append(rows, cur), word
		}
		cur = next
	}
	return append(rows, cur)
}
