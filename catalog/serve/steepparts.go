package serve

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/page"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
)

// steepParts are the steep parts of a catalogue's roads outside any descent.
type steepParts struct {
	store.SteepParts           // steepest first; without their lines
	places           [][]place // by part, for the map's box
	search           []string  // by part, for the text filter
}

// readSteepParts reads all of them.
func (l *listing) readSteepParts(ctx context.Context) (steepParts, error) {
	all, err := l.cat.SteepParts(ctx, store.Filter{})
	s := steepParts{SteepParts: all}
	for i := range s.Parts {
		p := &s.Parts[i]
		s.places = append(s.places, thinned(p.Line))
		s.search = append(s.search, strings.ToLower(wording.Plain(p.Name+" "+p.Route)))
		p.Line = nil
	}
	return s, err
}

// isForDescents reports whether a query asks for what only a descent has: an answer or a review.
func (q *query) isForDescents() bool {
	return len(q.Answers) > 0 || q.State != "" || q.Question
}

// keepsPart reports whether the i-th steep part passes the filters. A class chooses none out: a part
// has no advice for any.
func (q *query) keepsPart(s *steepParts, i int) bool {
	p := &s.Parts[i]
	return !q.isForDescents() &&
		(q.Route == "" || wording.Plain(p.Route) == q.Route) &&
		(q.Direction == "" || p.Direction.String() == q.Direction) &&
		p.LengthM >= q.longerM && p.MeanDowngradePct >= q.steeperPct &&
		(q.Text == "" || strings.Contains(s.search[i], strings.ToLower(q.Text))) &&
		(q.box == nil || anyIn(q.box, s.places[i]))
}

// limits are the length that may be steep, and the roads that are unknown. A road is in no one
// place: only the filter on roads narrows them.
func (q *query) limits(s *steepParts) (possibleM float64, unknown []string) {
	if q.Route == "" {
		return s.PossibleM, s.Unknown
	}
	for road, m := range s.PossibleByRoadM {
		if wording.Plain(road) == q.Route {
			possibleM += m
		}
	}
	return possibleM, slices.DeleteFunc(slices.Clone(s.Unknown), func(road string) bool { return wording.Plain(road) != q.Route })
}

// steepSection is the page's section of steep parts, with what was chosen of them.
type steepSection struct {
	*page.SteepSection
	Count string
}

// steepSection lists the steep parts that pass the filters, the steepest ones where they are many.
func (q *query) steepSection(s *steepParts, u catalog.Units) steepSection {
	var chosen []catalog.SteepPart
	for i := range s.Parts {
		if q.keepsPart(s, i) {
			chosen = append(chosen, s.Parts[i])
		}
	}
	possibleM, unknown := q.limits(s)
	shown := chosen[:min(len(chosen), rowsPerPage)]
	return steepSection{page.NewSteepSection(shown, wording.SteepPartsNote(possibleM, unknown, u), u), q.steepCount(len(shown), len(chosen), len(s.Parts))}
}

// steepCount says how many steep parts there are; an empty list never reads as an all-clear.
func (q *query) steepCount(shown, chosen, all int) string {
	has := fmt.Sprintf("the catalogue has %d.", all)
	switch {
	case all == 0:
		return "The catalogue has no steep part outside descents."
	case q.isForDescents():
		return fmt.Sprintf("None of the catalogue's %d is listed: they have no answer and no review to choose by.", all)
	case chosen == 0:
		return fmt.Sprintf("None of the catalogue's %d is chosen. This is not an all-clear: check the filters.", all)
	case shown < chosen:
		return fmt.Sprintf("The %d steepest of %d chosen; %s", shown, chosen, has)
	}
	return fmt.Sprintf("%d chosen, steepest first; %s", chosen, has)
}
