package serve

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// rowsPerPage keeps the first page small and quick.
const rowsPerPage = 100

// listPage is the list of descents with its filters.
type listPage struct {
	frame
	Query    query
	Old      string // says that the list is some seconds old; empty where it is not
	Classes  []choice
	Routes   []choice
	Ways     []choice
	States   []choice
	Answers  []choice
	Answerer string // whose answer the list shows
	Head     []string
	Rows     []listRow
	Total    int // chosen, of All
	All      int
	First    int
	Last     int
	Before   string // address of the previous page; empty on the first
	After    string
	Steep    steepSection
	Gaps     []string
	Files    []fileLink
	Map      mapSettings
}

// choice is an option of a form.
type choice struct {
	Value, Label string
	Is           bool
}

// listRow is one descent in words.
type listRow struct {
	ID, Address           string
	Title, Heading        string
	Length, Drop, Mean    string
	Steepest              string
	Code                  string
	Answer                string
	State, Question, Flag string
}

func (s *Server) listPage(w http.ResponseWriter, r *http.Request) {
	q, err := parseQuery(r.URL.Query())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	now, isOld, err := s.list.current(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	key := strings.Join([]string{s.unitsOf(r).String(), nameOf(r), fmt.Sprint(s.spread.isShown()), r.URL.RequestURI()}, "\x00")
	if b := now.page(key); b != nil && !isOld {
		writePage(w, r, http.StatusOK, b)
		return
	}
	rows, err := now.chosen(&q)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := &listPage{frame: s.frame(r, "Descents"), Query: q, Total: len(rows), All: len(now.rows), Gaps: now.gaps, Files: filesOf(&q), Map: s.mapSettings(&q)}
	if isOld {
		p.Old = now.at.Format("15:04:05")
	}
	if now.invented {
		p.Invented = wording.InventedBanner
	}
	s.choices(p, now)
	p.Head = []string{"Length", "Drop", "Mean, ± 95 %", "Steepest " + wording.Window(p.Units, 500)}
	p.Steep = q.steepSection(&now.steep, p.Units)
	p.pageOf(rows, now.classIndex(q.Class), &q)
	b, err := laidOut("list", p)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if !isOld {
		kept := keptPage{body: b, rows: map[string]bool{}, isFixed: q.State == "" && !q.Question}
		for i := range p.Rows {
			kept.rows[p.Rows[i].ID] = true
		}
		now.keepPage(key, kept)
	}
	writePage(w, r, http.StatusOK, b)
}

// choices fills the options of the filters.
func (s *Server) choices(p *listPage, now *snapshot) {
	q := &p.Query
	p.Answerer = "The worst answer of all classes"
	p.Classes = []choice{{"", "all classes: the worst answer", q.Class == ""}}
	for _, id := range now.classes {
		label := s.className(id)
		if id == q.Class {
			p.Answerer = label
		}
		p.Classes = append(p.Classes, choice{id, label, id == q.Class})
	}
	p.Routes = []choice{{"", "any road", q.Route == ""}}
	for _, id := range now.routes[:min(len(now.routes), mostRouteChoices)] {
		p.Routes = append(p.Routes, choice{id, wording.Shortened(id, 60), id == q.Route})
	}
	for _, c := range []choice{{"", "both ways", false}, {"forward", "forward along the line", false}, {"backward", "backward along the line", false}} {
		p.Ways = append(p.Ways, choice{c.Value, c.Label, c.Value == q.Direction})
	}
	p.States = []choice{{"", "any but retired", q.State == ""}}
	for _, state := range states {
		p.States = append(p.States, choice{state, state, state == q.State})
	}
	for i, label := range []string{wording.NotHeld.String(), wording.Unknown.String(), catalog.DryRoadOnly, "holds, wet too"} {
		p.Answers = append(p.Answers, choice{codeNames[i], label, q.Has(codeNames[i])})
	}
}

// mostRouteChoices limits the page where a catalogue has thousands of roads; the text filter finds
// those.
const mostRouteChoices = 200

// className is a class's name for people, its id where it has none.
func (s *Server) className(id string) string {
	for i := range s.opt.Classes {
		if k := &s.opt.Classes[i]; k.ID == id && k.Name != "" {
			return wording.Plain(k.Name)
		}
	}
	return wording.Plain(id)
}

// pageOf makes one page of the rows.
func (p *listPage) pageOf(rows []*row, class int, q *query) {
	pages := max(1, (len(rows)+rowsPerPage-1)/rowsPerPage)
	q.Page = min(q.Page, pages)
	from := (q.Page - 1) * rowsPerPage
	to := min(len(rows), from+rowsPerPage)
	for _, r := range rows[from:to] {
		p.Rows = append(p.Rows, r.inWords(class, p.Units, q.Class))
	}
	p.First, p.Last = min(from+1, to), to
	if q.Page > 1 {
		p.Before = q.address(q.Page - 1)
	}
	if q.Page < pages {
		p.After = q.address(q.Page + 1)
	}
}

// address is the list with these filters at another page.
func (q *query) address(page int) string {
	v := q.Values()
	if page > 1 {
		v.Set("page", fmt.Sprint(page))
	}
	return "/?" + v.Encode()
}

// inWords is a row for people, with the answer of a class, of the worst for −1.
func (r *row) inWords(class int, u catalog.Units, classID string) listRow {
	x := listRow{
		ID: r.id, Title: r.title, Heading: r.heading, Length: u.Length(r.lengthM), Drop: u.Height(r.dropM),
		Mean: catalog.GradeWithBound(r.meanPct, r.meanErrPct), Steepest: wording.Steepest(r.steep500Pct, r.steep500Err),
		State: r.state, Question: r.question, Flag: strings.Join(r.flags, ", "),
	}
	x.Address = descentAddress(r.id)
	if classID != "" {
		x.Address += "?class=" + url.QueryEscape(classID)
	}
	if class >= 0 {
		c := &r.answers[class]
		x.Code, x.Answer = c.code.String(), c.words(u)
		return x
	}
	x.Code, x.Answer = r.worst().String(), r.together(u)
	return x
}

// together sums up the answers of all classes in a few words.
func (r *row) together(u catalog.Units) string {
	var count [4]int
	slowest := -1.0
	for i := range r.answers {
		c := &r.answers[i]
		count[c.code]++
		if c.code >= codeDry && (slowest < 0 || c.speedMPS < slowest) {
			slowest = c.speedMPS
		}
	}
	n := len(r.answers)
	switch {
	case n == 0:
		return "unknown: no advice for any class"
	case count[codeNot] > 0:
		return fmt.Sprintf("NOT HELD by %d of %d classes", count[codeNot], n)
	case count[codeUnknown] > 0:
		return fmt.Sprintf("unknown for %d of %d classes", count[codeUnknown], n)
	case count[codeDry] > 0:
		return fmt.Sprintf("%s for %d of %d classes, slowest %s", catalog.DryRoadOnly, count[codeDry], n, u.Speed(slowest))
	}
	return fmt.Sprintf("held by all %d classes, slowest %s", n, u.Speed(slowest))
}
