package network

import (
	"fmt"

	"gradeline/routes"
)

// KeptRoad is a through road of a joined network with its lines, as a catalogue stores it,
// including a road that is too short to be surveyed on its own, or a roundabout.
type KeptRoad struct {
	ID         string
	LengthM    float64
	IsSurveyed bool // a route of the network
	Lines      []KeptLine
}

// KeptLine is a line of a road, in the order of the road.
type KeptLine struct {
	routes.Feature
	IsReversed bool    // drawn against the road
	FromM, ToM float64 // on the road
	// IsArc marks the part of a roundabout that the road takes; the roundabout's own
	// lines are roads of their own.
	IsArc bool
}

// Kept lists the roads of a joined network after reading, surveyed ones first; none where nothing
// was joined.
func (s *Summary) Kept() []KeptRoad {
	if s.onward == nil {
		return nil
	}
	var out []KeptRoad
	for i := range s.onward.roads {
		out = append(out, s.kept(i))
	}
	j := s.onward.rings
	used := map[string]bool{}
	for i := range j.lines {
		if l := &j.lines[i]; l.isRing && l.lengthM > 0 {
			p := l.f.Line[0]
			id := free(used, fmt.Sprintf("junction=roundabout@%.5f,%.5f", p[0], p[1]))
			out = append(out, KeptRoad{ID: id, LengthM: l.lengthM, Lines: []KeptLine{{Feature: *l.f, ToM: l.lengthM}}})
		}
	}
	return out
}

// KeptRoad is one surveyed road of Kept, by its id.
func (s *Summary) KeptRoad(id string) (KeptRoad, bool) {
	if s.onward == nil {
		return KeptRoad{}, false
	}
	i, ok := s.onward.byID[id]
	if !ok {
		return KeptRoad{}, false
	}
	return s.kept(i), true
}

func (s *Summary) kept(i int) KeptRoad {
	r := &s.onward.roads[i]
	k := KeptRoad{ID: r.ID, LengthM: r.LengthM, IsSurveyed: r.LengthM >= stubM}
	for n, p := range r.pieces {
		k.Lines = append(k.Lines, KeptLine{Feature: p.Feature, IsReversed: p.Reversed, FromM: r.Ways[n].FromM, ToM: r.Ways[n].ToM, IsArc: isConnector(&r.pieces[n])})
	}
	return k
}

// Turns are the turn rules that were read.
func (s *Summary) Turns() []routes.Turn { return s.turns }
