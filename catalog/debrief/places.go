package debrief

import (
	"math"
	"sort"

	"gradeline/catalog"
)

// PassedPlace is a place on record along the road that the drive passed.
type PassedPlace struct {
	Kind      catalog.SiteKind `json:"kind"`
	Name      string           `json:"name"`
	DistanceM float64          `json:"distance_m"` // from the crest in travel
	StopS     float64          `json:"stop_s"`     // of a stop at it; 0 for none
	IsUnseen  bool             `json:"unseen"`     // a gap in the recording is there: a stop cannot be seen
}

// stopNearM is the distance from a place's station within which a stop counts as one there: places
// are long, and their stations are those of a mark on a map (common practice, no source).
const stopNearM = 150.0

// placesPassed are the places of the road and direction between the ends of a pass, in
// travel order, with the longest stop at each.
func (d *Debrief) placesPassed(in *Input, v *driven) []PassedPlace {
	out := []PassedPlace{}
	first, last := math.Inf(1), math.Inf(-1)
	for i := range v.pass {
		first, last = min(first, v.pass[i].DistanceM), max(last, v.pass[i].DistanceM)
	}
	for i := range in.Sites {
		s := &in.Sites[i]
		if s.Route != in.Descent.Route || s.Kind == catalog.SignStands || !s.Serves(in.Descent.Direction) {
			continue
		}
		p := PassedPlace{Kind: s.Kind, Name: s.Name, DistanceM: in.Descent.TravelFromStationM(*s.StationM)}
		if p.DistanceM < first || p.DistanceM > last {
			continue
		}
		for _, x := range d.Stops {
			if math.Abs(x.AtM-p.DistanceM) <= stopNearM {
				p.StopS = max(p.StopS, x.TimeS)
			}
		}
		for _, g := range d.Gaps {
			p.IsUnseen = p.IsUnseen || p.StopS == 0 && g.FromM <= p.DistanceM+stopNearM && g.ToM >= p.DistanceM-stopNearM
		}
		out = append(out, p)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].DistanceM < out[j].DistanceM })
	return out
}
