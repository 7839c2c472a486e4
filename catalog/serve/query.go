package serve

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

// query holds the filters of a list, as in the address bar. Quantities have their unit there, so
// that a link means the same for every visitor.
type query struct {
	Class     string
	Route     string
	Direction string   // "forward", "backward" or ""
	Answers   []string // codes; none for all
	State     string
	Question  bool
	Longer    string // as typed: "2km"
	Steeper   string // as typed: "6%"
	Text      string
	Box       string
	Page      int

	longerM, steeperPct float64
	box                 *store.Box
}

const mostTextBytes = 200

// parseQuery reads a query string. Unknown keys are ignored; a value that cannot be read is an
// error: a filter that is silently dropped would show too much or too little.
func parseQuery(v url.Values) (query, error) {
	q := query{Class: v.Get("class"), Route: v.Get("route"), Direction: v.Get("direction"), State: v.Get("state"), Question: v.Get("question") != "",
		Longer: strings.TrimSpace(v.Get("longer")), Steeper: strings.TrimSpace(v.Get("steeper")), Text: strings.TrimSpace(v.Get("text")), Box: v.Get("box"), Page: 1}
	for _, given := range []string{q.Class, q.Route, q.Longer, q.Steeper, q.Text, q.Box} {
		if len(given) > mostTextBytes {
			return q, badQuery("a filter", given, fmt.Sprintf("use at most %d characters", mostTextBytes))
		}
	}
	if q.Direction != "" && q.Direction != routes.Forward.String() && q.Direction != routes.Backward.String() {
		return q, badQuery("the direction", q.Direction, "use forward or backward")
	}
	if q.State != "" && !slices.Contains(states, q.State) {
		return q, badQuery("the review state", q.State, "use one of "+strings.Join(states, ", "))
	}
	for _, name := range codeNames {
		if slices.Contains(v["answer"], name) {
			q.Answers = append(q.Answers, name)
		}
	}
	for _, name := range v["answer"] {
		if !slices.Contains(codeNames, name) {
			return q, badQuery("the answer", name, "use one of "+strings.Join(codeNames, ", "))
		}
	}
	if p := v.Get("page"); p != "" {
		n, err := strconv.Atoi(p)
		if err != nil || n < 1 {
			return q, badQuery("the page", p, "use a number from 1 up")
		}
		q.Page = n
	}
	return q, q.quantities()
}

var states = []string{string(catalog.Surveyed), string(catalog.FieldChecked), string(catalog.Approved), string(catalog.Retired)}

func (q *query) quantities() (err error) {
	if q.Longer != "" {
		if q.longerM, err = catalog.LengthM(q.Longer); err != nil {
			return err
		}
	}
	if q.Steeper != "" {
		if q.steeperPct, err = catalog.DowngradePct(q.Steeper); err != nil {
			return err
		}
	}
	if q.Box != "" {
		if q.box, err = store.ParseBox(q.Box); err != nil {
			return err
		}
	}
	return nil
}

func badQuery(what, given, fix string) error {
	return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%s %q cannot be read", what, wording.Shortened(given, 60)), Fix: fix}
}

// Values are the filters as a query string holds them, without the page.
func (q *query) Values() url.Values {
	v := url.Values{}
	for name, given := range map[string]string{"class": q.Class, "route": q.Route, "direction": q.Direction, "state": q.State,
		"longer": q.Longer, "steeper": q.Steeper, "text": q.Text, "box": q.Box} {
		if given != "" {
			v.Set(name, given)
		}
	}
	if q.Question {
		v.Set("question", "1")
	}
	for _, a := range q.Answers {
		v.Add("answer", a)
	}
	return v
}

// Has reports whether the filter names an answer.
func (q *query) Has(answer string) bool { return slices.Contains(q.Answers, answer) }

// keeps reports whether a row passes the filters; class is the index of the class in its answers,
// −1 for the worst of all.
func (q *query) keeps(r *row, class int) bool {
	c := r.worst()
	if class >= 0 {
		c = r.answers[class].code
	}
	switch {
	case q.Route != "" && r.route != q.Route,
		q.Direction != "" && r.direction != q.Direction,
		len(q.Answers) > 0 && !q.Has(c.String()),
		q.State != "" && r.state != q.State,
		q.State == "" && r.state == string(catalog.Retired),
		q.Question && r.question == "",
		r.lengthM < q.longerM,
		r.meanPct < q.steeperPct,
		q.Text != "" && !strings.Contains(r.search, strings.ToLower(q.Text)),
		q.box != nil && !r.isWithin(q.box):
		return false
	}
	return true
}

// chosen are the rows that pass a query, in order of danger for its class. A class or road that the
// catalogue does not have is an error: an empty list would look like an all-clear.
func (s *snapshot) chosen(q *query) ([]*row, error) {
	class := -1
	if q.Class != "" {
		if class = s.classIndex(q.Class); class < 0 {
			return nil, notKnown("class", q.Class, s.classes)
		}
	}
	if q.Route != "" && !slices.Contains(s.routes, q.Route) {
		return nil, notKnown("road", q.Route, nil)
	}
	out := []*row{}
	if class < 0 {
		for i := range s.rows {
			if r := &s.rows[i]; q.keeps(r, class) {
				out = append(out, r)
			}
		}
		return out, nil
	}
	for _, i := range s.order(class) {
		if r := &s.rows[i]; q.keeps(r, class) {
			out = append(out, r)
		}
	}
	return out, nil
}

// byDanger orders by the answer for a class: not held first, then without an answer, then by the
// lowest speed, then by the largest drop.
func byDanger(a, b *row, class int) int {
	x, y := &a.answers[class], &b.answers[class]
	rank := func(c code) int { return min(int(c), int(codeDry)) }
	switch {
	case rank(x.code) != rank(y.code):
		return rank(x.code) - rank(y.code)
	case x.speedMPS != y.speedMPS:
		if x.speedMPS < y.speedMPS {
			return -1
		}
		return 1
	case a.dropM > b.dropM:
		return -1
	case a.dropM < b.dropM:
		return 1
	}
	return strings.Compare(a.id, b.id)
}

func notKnown(what, name string, known []string) error {
	fix := "start at the list of descents"
	if len(known) > 0 {
		fix = "it has " + strings.Join(known, ", ")
	}
	return &catalog.Fault{Kind: catalog.ErrNotFound, What: fmt.Sprintf("the catalogue has no %s %q", what, wording.Shortened(name, 60)), Fix: fix}
}

// chosenBy are the rows of the current list that pass a request's query.
func (s *Server) chosenBy(r *http.Request) (q query, now *snapshot, rows []*row, err error) {
	if q, err = parseQuery(r.URL.Query()); err != nil {
		return q, nil, nil, err
	}
	if now, _, err = s.list.current(r.Context()); err != nil {
		return q, nil, nil, err
	}
	rows, err = now.chosen(&q)
	return q, now, rows, err
}
