package stationing

import (
	"gradeline/routes"
)

// Piece is a feature on its way into a route: travelled as drawn or against it.
type Piece struct {
	routes.Feature
	Reversed bool
}

// Through makes one route of features in order, each meeting the next; the caller
// has decided which go on in which. ID is left empty. The notes say what of the
// tags was not understood. A nil route, with a note, has no length or is no road.
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

// waysOf lists what a route was made from, by station. A feature without a number
// of its own goes by its number in its file.
func waysOf(pieces []piece, c []step, first, last []int, m stationMap) []routes.Way {
	out := make([]routes.Way, 0, len(c))
	for k, s := range c {
		out = append(out, routes.Way{ID: pieces[s.piece].ID(), Reversed: s.turned, FromM: m.cleanM[first[k]], ToM: m.cleanM[last[k]]})
	}
	return out
}
