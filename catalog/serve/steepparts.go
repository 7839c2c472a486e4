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
	store.SteepParts          // steepest first
	search           []string // by part, for the text filter
}

// readSteepParts reads all of them.
func (l *listing) readSteepParts(ctx context.Context) (steepParts, error) {
	all, err := l.cat.SteepParts(ctx, store.Filter{})
	s := steepParts{SteepParts: all}
	for i := range s.Parts {
		s.search = append(s.search, strings.ToLower(wording.Plain(s.Parts[i].Name+" "+s.Parts[i].Route)))
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
		(q.box == nil || slices.ContainsFunc(p.Line, func(v catalog.Vertex) bool { return isIn(q.box, v.LonDeg, v.LatDeg) }))
}

// chosenParts are the steep parts that pass the filters, and what is not known of them. A road is in
// no one place: only the filter on roads narrows what is not known.
func (q *query) chosenParts(s *steepParts) store.SteepParts {
	out := store.SteepParts{PossibleM: s.PossibleM, Unknown: s.Unknown}
	for i := range s.Parts {
		if q.keepsPart(s, i) {
			out.Parts = append(out.Parts, s.Parts[i])
		}
	}
	if q.Route == "" {
		return out
	}
	out.PossibleM = 0
	for road, m := range s.PossibleByRoadM {
		if wording.Plain(road) == q.Route {
			out.PossibleM += m
		}
	}
	out.Unknown = slices.DeleteFunc(slices.Clone(s.Unknown), func(road string) bool { return wording.Plain(road) != q.Route })
	return out
}

// steepSection is the page's section of steep parts, with what was chosen of them.
type steepSection struct {
	*page.SteepSection
	Count string
}

// steepSection lists the steep parts that pass the filters, the steepest ones where they are many.
func (q *query) steepSection(s *steepParts, u catalog.Units) steepSection {
	chosen := q.chosenParts(s)
	shown := chosen.Parts[:min(len(chosen.Parts), rowsPerPage)]
	note := wording.SteepPartsNote(chosen.PossibleM, chosen.Unknown, u)
	return steepSection{page.NewSteepSection(shown, note, u), q.steepCount(len(shown), len(chosen.Parts), len(s.Parts))}
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
