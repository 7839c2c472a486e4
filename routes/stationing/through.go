package stationing

import (
	"gradeline/routes"
)

// Piece is a feature as part of a route, travelled as drawn or in the opposite direction.
type Piece struct {
	routes.Feature
	Reversed bool
}

// Through makes one route of features in order, each meeting the next; the caller has decided their
// order. ID is left empty. The notes name tags that were not understood. A nil route, with a note,
// has no length or is not a road.
func Through(list []Piece) (*routes.Route, []string) {
	if len(list) == 0 {
		return nil, nil
	}
	pieces, chain := make([]piece, len(list)), make([]step, len(list))
	for i, p := range list {
		if why := notARoad(p.Feature); why != "" {
			return nil, []string{why}
		}
		pieces[i] = piece{Feature: p.Feature, index: i}
		chain[i] = step{piece: i, turned: p.Reversed}
	}
	return assembleChain(pieces, chain)
}

// waysOf lists the lines of a route, by station. A feature without a number of its own has its
// number in its file.
func waysOf(pieces []piece, c []step, first, last []int, m stationMap) []routes.Way {
	out := make([]routes.Way, 0, len(c))
	for k, s := range c {
		out = append(out, routes.Way{ID: pieces[s.piece].ID(), Reversed: s.turned, FromM: m.cleanM[first[k]], ToM: m.cleanM[last[k]]})
	}
	return out
}
