package routes

import "math"

// IndexFromStationM returns where a station lies among the indices; below 0 or above Count()-1
// outside the stretch.
func (p *Profile) IndexFromStationM(stationM float64) float64 {
	return (stationM - p.OriginM) / p.StepM
}

// IndicesBetween returns the first and the last index between two stations and one
// beyond either, as far as there are.
func (p *Profile) IndicesBetween(loM, hiM float64) (first, last int) {
	return max(0, int(p.IndexFromStationM(loM))-1), min(p.Count()-1, int(p.IndexFromStationM(hiM))+2)
}

// EndM returns the station of the last height: LengthM for a complete route.
func (p *Profile) EndM() float64 {
	end := p.StationM(p.Count() - 1)
	if math.Abs(end-p.LengthM) < sameStationM {
		return p.LengthM
	}
	return end
}

// sameStationM is the largest rounding difference between two calculations of the same station.
const sameStationM = 1e-6

// covers reports whether the stretch reaches a station.
func (p *Profile) covers(stationM float64) bool {
	return p.Count() >= 2 && stationM >= max(0, p.OriginM-sameStationM) && stationM <= min(p.LengthM, p.EndM())+sameStationM
}

// Stretch returns the part of the profile between two stations, out to the next station
// on either side, with the facts about its route there. It shares the profile's memory;
// nil where the two have no station in common.
func (p *Profile) Stretch(loM, hiM float64) *Profile {
	first := max(0, int(math.Floor(p.IndexFromStationM(loM))))
	end := min(p.Count(), int(math.Ceil(p.IndexFromStationM(hiM)))+1)
	if first >= end {
		return nil
	}
	q := *p
	q.OriginM = p.StationM(first)
	q.GroundM, q.ElevationM, q.State = between(p.GroundM, first, end), between(p.ElevationM, first, end), between(p.State, first, end)
	q.Points, q.RadiusM = between(p.Points, first, end), between(p.RadiusM, first, end)
	q.EaseM, q.LateralM = between(p.EaseM, first, end), between(p.LateralM, first, end)
	q.Structures, q.Coarser, q.Doubtful = nil, nil, nil
	for _, x := range p.Structures {
		if x.ToM > loM && x.FromM < hiM {
			q.Structures = append(q.Structures, x)
		}
	}
	for _, x := range p.Coarser {
		if x.ToM > loM && x.FromM < hiM {
			q.Coarser = append(q.Coarser, x)
		}
	}
	for _, x := range p.Doubtful {
		if x.ToM > loM && x.FromM < hiM {
			q.Doubtful = append(q.Doubtful, x)
		}
	}
	return &q
}

// between is a series from one index to before another; nil where the profile has none.
func between[T any](series []T, first, end int) []T {
	if len(series) < end {
		return nil
	}
	return series[first:end]
}

// MissingStretches are the stretches without known ground, each from its first station to the next one
// with ground, or to the road's end.
func (p *Profile) MissingStretches() [][2]float64 {
	var out [][2]float64
	from := -1.0
	for i := range p.State {
		isMissing := p.State[i] == InVoid || p.State[i] == OutsideTerrain
		switch {
		case isMissing && from < 0:
			from = p.StationM(i)
		case !isMissing && from >= 0:
			out, from = append(out, [2]float64{from, p.StationM(i)}), -1
		}
	}
	if from >= 0 {
		out = append(out, [2]float64{from, p.LengthM})
	}
	return out
}
