package ranking

import (
	"math"
	"sort"

	"gradeline/catalog"
	"gradeline/routes"
)

// Positions of a place along a grade.
const (
	beforeCrest = "before the crest"
	atCrest     = "at the crest"
	onGrade     = "on the grade"
	atFoot      = "at the foot"
	pastFoot    = "past the foot"
)

// PlacesNear returns two lists in travel order. One has the pullouts, chain-up and brake check
// areas on a grade or within 3 km of its ends, where a learner can stop or turn. The other has the
// escape ramps on it or within 3 km of its foot.
func PlacesNear(d *routes.Descent, sites []catalog.Site) (places, ramps []TurnPlace) {
	const nearM = 3000
	places, ramps = []TurnPlace{}, []TurnPlace{}
	for _, s := range sites {
		if s.Route != d.Route || s.StationM == nil || s.Kind == catalog.SignStands {
			continue
		}
		if s.Direction != "" && s.Direction != d.Direction.String() {
			continue
		}
		travelM := d.TravelFromStationM(*s.StationM)
		if travelM < -nearM || travelM > d.LengthM+nearM {
			continue
		}
		p := TurnPlace{Kind: s.Kind, Name: s.Name, StationM: *s.StationM, Side: s.Side, Where: whereAlong(travelM, d.LengthM), PastM: travelM,
			FromEndM: min(math.Abs(travelM), math.Abs(travelM-d.LengthM))}
		switch {
		case s.Kind != catalog.EscapeRamp:
			places = append(places, p)
		case travelM >= 0:
			ramps = append(ramps, p)
		}
	}
	for _, list := range [][]TurnPlace{places, ramps} {
		sort.SliceStable(list, func(i, j int) bool {
			return d.TravelFromStationM(list[i].StationM) < d.TravelFromStationM(list[j].StationM)
		})
	}
	return places, ramps
}

// whereAlong names the position of a distance from the crest along a grade; within 50 m of the
// crest or the foot counts as at it.
func whereAlong(travelM, lengthM float64) string {
	switch {
	case travelM < -50:
		return beforeCrest
	case travelM <= 50:
		return atCrest
	case travelM > lengthM+50:
		return pastFoot
	case travelM >= lengthM-50:
		return atFoot
	}
	return onGrade
}
