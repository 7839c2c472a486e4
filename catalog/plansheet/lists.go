package plansheet

import (
	"fmt"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

// tableColumn is a column of the list: its header and its width, mm.
type tableColumn struct {
	head string
	w    float64
}

// lister writes the lists down the main part of as many sheets as they need.
type lister struct {
	d    *drafter
	p    *page
	y    float64
	x, w float64
}

const (
	listTextMM = 2.3
	listLineMM = 2.9
)

// listPages writes the posts with sizes, coordinates and reasons, the quantities, and the choices,
// notes and cautions.
func (d *drafter) listPages() {
	l := &lister{d: d}
	l.newPage()
	l.posts()
	l.quantities()
	l.panel()
	l.notes()
}

func (l *lister) newPage() {
	b := l.d.planBox()
	l.p = &page{widthMM: l.d.widthMM, heightMM: l.d.heightMM, title: "Posts, quantities and notes", layer: layerText}
	l.d.pages = append(l.d.pages, l.p)
	l.x, l.w, l.y = b.x+2, b.w-4, b.y+5
	p, c := l.p, l.d.column()
	p.text(c.x+2, c.y+5, 2.8, "start", true, "How to read this list")
	y := c.y + 10
	for _, words := range []string{
		"install: a new post or a sign on it. move: take down at the old place, put up here. replace: keep the post, renew the face. keep: no change. remove: this hill does not need it. decide: an engineer decides before anything is ordered. leave: not judged here.",
		"Coordinates are those of the post, WGS 84, from the road's line and the distance from it; they are not more accurate than that line. Set out from stations and from the edge of the travelled way.",
		"± is a 95 % bound of the station, along the road.",
		"Sizes are those of the rule set; “not given” where it has none. Check sizes and distances against the edition in force: see the status of each source in the schedule.",
	} {
		for _, line := range wrap(words, c.w-4, listTextMM) {
			p.text(c.x+2, y, listTextMM, "start", false, line)
			y += listLineMM
		}
		y += 1.5
	}
}

// room starts a new sheet where a height does not fit, and reports whether it did.
func (l *lister) room(mm float64) bool {
	if l.y+mm <= l.d.heightMM-marginMM-2 {
		return false
	}
	l.newPage()
	return true
}

func (l *lister) head(words string) {
	l.room(16)
	l.y += 3
	l.p.text(l.x, l.y, 3, "start", true, words)
	l.y += 4.5
}

func (l *lister) columns(cols []tableColumn) {
	x := l.x
	for _, c := range cols {
		l.p.text(x, l.y, listTextMM, "start", true, c.head)
		x += c.w
	}
	l.y += 1.2
	l.p.line(0.25, 0, point{l.x, l.y}, point{l.x + l.w, l.y})
	l.y += listLineMM
}

// row writes one row, each cell on as many lines as it needs; the headers are repeated on a new
// sheet.
func (l *lister) row(cols []tableColumn, cells []string, rule bool) {
	lines, most := make([][]string, len(cells)), 1
	for i, c := range cells {
		lines[i] = wrap(c, cols[i].w-1.5, listTextMM)
		most = max(most, len(lines[i]))
	}
	if l.room(float64(most)*listLineMM + 1) {
		l.columns(cols)
	}
	if rule {
		l.p.line(0.1, 0, point{l.x, l.y - listLineMM + 0.5}, point{l.x + l.w, l.y - listLineMM + 0.5})
	}
	x := l.x
	for i := range cells {
		for k, t := range lines[i] {
			l.p.text(x, l.y+float64(k)*listLineMM, listTextMM, "start", false, cut(t, cols[i].w-0.8, listTextMM, false))
		}
		x += cols[i].w
	}
	l.y += float64(most)*listLineMM + 0.6
}

func (l *lister) posts() {
	d := l.d
	l.head("Posts in travel")
	cols := []tableColumn{{"post", 9}, {"station", 19}, {"±", 12}, {"milepost", 14}, {"side", 10}, {"from line", 15}, {"latitude", 19}, {"longitude", 20},
		{"action", 15}, {"sign", 25}, {"size", 26}, {"legend", 42}}
	used := 0.0
	for _, c := range cols {
		used += c.w
	}
	cols = append(cols, tableColumn{"stands; why", l.w - used})
	l.columns(cols)
	for i := range d.sch.Posts {
		post := &d.sch.Posts[i]
		lat, lon := "not known", "not known"
		if post.OnLine {
			lat, lon = fmt.Sprintf("%.6f°", post.LatDeg), fmt.Sprintf("%.6f°", post.LonDeg)
		}
		for k, f := range post.Faces {
			cells := []string{"", "", "", "", "", "", "", "", f.Action, f.Designation, f.Size, f.Legend, faceReason(&f, d)}
			if k == 0 {
				copy(cells, []string{fmt.Sprint(post.Number), d.station(post.StationM), d.length(post.StationErrM), d.sch.Mileposts.Words(post.StationM), post.Side, d.length(post.FromLineM), lat, lon})
			}
			if f.IsPlaque {
				cells[9] = "+ " + cells[9]
			}
			l.row(cols, cells, k == 0)
		}
	}
}

// faceReason describes the existing sign, with its photograph, and the reason for the new one.
func faceReason(f *signs.Face, d *drafter) string {
	if f.IsPlaque {
		return ""
	}
	var words []string
	if f.Standing != "" {
		words = append(words, f.Standing)
	}
	if f.FromM != nil {
		words = append(words, "now at "+d.station(*f.FromM))
	}
	if f.Photo != "" {
		words = append(words, "photo "+f.Photo)
	}
	if f.Need != signs.NeedWarranted && f.Need != "stands" {
		words = append(words, f.Need)
	}
	return strings.Join(append(words, f.Why), "; ")
}

func (l *lister) quantities() {
	l.head("Quantities")
	header, rows := signs.QuantityTable(signs.Quantities([]signs.Schedule{*l.d.sch}))
	cols := make([]tableColumn, len(header))
	for i, h := range header {
		cols[i] = tableColumn{strings.ReplaceAll(h, "_", " "), (l.w - 130) / float64(len(header)-3)}
	}
	cols[0].w, cols[1].w, cols[2].w = 34, 56, 40
	l.columns(cols)
	for i, r := range rows {
		l.row(cols, r, i == len(rows)-1)
	}
}

func (l *lister) panel() {
	if len(l.d.sch.Panel) == 0 {
		return
	}
	l.head("Speed panel by weight, advice to an engineer")
	for _, r := range l.d.sch.Panel {
		l.paragraph(r.Legend)
	}
}

func (l *lister) notes() {
	l.head("Choices, notes and cautions")
	for _, c := range l.d.sch.Choices {
		how := "chosen"
		if c.Default {
			how = "our default; the edition leaves it open"
		}
		l.paragraph(fmt.Sprintf("%s %s (%s).", c.Question, c.Words, how))
	}
	for _, n := range append(append([]string{}, l.d.sch.Notes...), l.d.sch.Cautions...) {
		l.paragraph(n)
	}
	for _, q := range l.d.sources() {
		l.paragraph("Source: " + q)
	}
}

func (l *lister) paragraph(words string) {
	for _, line := range wrap(words, l.w, listTextMM) {
		l.room(listLineMM)
		l.p.text(l.x, l.y, listTextMM, "start", false, line)
		l.y += listLineMM
	}
	l.y += 0.7
}

// sources are those of the signs in this schedule, each once.
func (d *drafter) sources() []string {
	var out []string
	seen := map[catalog.Source]bool{}
	for _, p := range d.sch.Placements {
		if q := p.Source; !seen[q] {
			seen[q] = true
			out = append(out, fmt.Sprintf("%s, %s, %s: %s. %s", q.Document, q.Section, q.Edition, q.Status, q.Note))
		}
	}
	return out
}
