package serve

import (
	"net/url"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// neighbour is a road in which a hill continues, or from which another hill comes into it.
type neighbour struct {
	Words    string
	Road     string
	Address  string // the list of the road's descents
	Descents []neighbourHill
}

// neighbourHill is a descent of the catalogue next to another.
type neighbourHill struct{ Title, Heading, Address, Code, Answer string }

// mostNeighbourHills limits the list of each road.
const mostNeighbourHills = 12

// neighboursOf are the roads in which a hill continues, with their descents, and the hills that
// continue in its road.
func (s *snapshot) neighboursOf(e *catalog.Entry, class string, u catalog.Units) (onward []neighbour, from []neighbourHill) {
	for i := range e.Descent.GoesOn {
		road := wording.Plain(e.Descent.GoesOn[i].Route)
		n := neighbour{Road: road, Words: wording.GoesOn(&e.Descent.GoesOn[i], u), Address: "/?" + url.Values{"route": {road}}.Encode()}
		for k := range s.rows {
			if r := &s.rows[k]; r.route == road && len(n.Descents) < mostNeighbourHills && r.state != string(catalog.Retired) {
				n.Descents = append(n.Descents, s.neighbourHill(r, class, u))
			}
		}
		onward = append(onward, n)
	}
	own := wording.Plain(e.Descent.Route)
	for k := range s.rows {
		if r := &s.rows[k]; slices.Contains(r.goesOn, own) && r.id != e.Descent.ID && len(from) < mostNeighbourHills && r.state != string(catalog.Retired) {
			from = append(from, s.neighbourHill(r, class, u))
		}
	}
	return onward, from
}

func (s *snapshot) neighbourHill(r *row, class string, u catalog.Units) neighbourHill {
	x := r.inWords(s.classIndex(class), u, class)
	h := neighbourHill{x.Title, x.Heading, x.Address, x.Code, x.Answer}
	if x.Question != "" && class == "" { // the answer for one class says so itself
		h.Answer = "IN QUESTION, " + h.Answer
	}
	return h
}
