// Package holding gives advice for a descent and a weight class: the gear and the speed that the
// retarder alone holds, with the service brakes unused, or that nothing holds it.
//
// The input is a Hill (from a descent and its grade line, or plain), a class and Options;
// the output is a catalog.Hold in SI, speeds in whole units of the class's country,
// distances in metres of the route. A hill that nothing holds is an answer, not an error.
// Errors are *catalog.Fault: ErrImpossible for figures that no truck or hill has or a gap
// in the grade line, ErrClass for a mass above the class. Masses up to 200 t, downgrades
// up to 25 %, 500 m below to 6,000 m above the sea. All functions are safe for concurrent
// use.
//
// # What is held
//
// At a steady speed the demand of every stretch of the hill must stay within
// what the retarders take from the wheels:
//
//   - over every 100 m the recovered downgrade, against the retarders' power less the
//     reserve;
//   - over every 20 m, a truck's own length, the recovered downgrade, against
//     the retarders' power without reserve.
//
// So on the road as recovered a truck that enters at the advised speed in the advised gear
// never gains speed: on a short pitch the retarder works into its reserve, on a longer
// one it keeps the reserve. The mean grade of a hill never rules.
//
// # Where the road is steeper than recovered
//
// A survey states how much steeper a mean may be than recovered, and that bound falls with
// the length of the mean. What counts is the span over which the truck would gain from its
// advised speed to the governed one. It follows from the balance: with A the pull at the
// steep end of a mean's bound, B what the retarder gives with half of its reserve kept,
// v₁ the speed a second later, when a stage that is set works, and u the governed speed,
// the span is (u² − v₁²)/(2·(A − B)). So for means over 200, 300, 500, 1,000 and 2,000 m,
// and over the hill, each with its own bound, that span must not be shorter than the mean:
//
//	m·(A − (u² − v₁²)/(2·length)) ≤ B
//
// A truck near its governed speed has nothing in hand and meets the bound of 200 m; one
// that the retarder's power limits, far below it, meets that of a kilometre. A longer
// mean's bound never hides a steep part: every shorter one is asked too. Half of the
// reserve is for the grade's error; the other half stays for a retarder that is weaker
// than its curve. A grade line that states no bounds of longer means keeps that over
// 200 m, with the whole reserve and nothing gained. windows.go has what short steep parts
// and a line's ends add; drawnhills_test.go drives trucks down the true road of surveys.
//
// # Why heavier is never faster
//
// For a gear and a speed the demand is m·A − B per stretch, so each has a
// heaviest mass, the least over the stretches of (power + drag)/pull. Advice is
// the highest whole speed, under all ceilings, whose heaviest mass in some gear
// is not under the truck's, in the highest such gear. A steeper stretch, a
// further stretch, thinner air or a weaker retarder can only lower those masses.
package holding

import (
	"math"

	"gradeline/routes"
)

// Hill is one descent in travel, with the facts about the road that advice needs. The
// nodes are distances from the crest, ascending from 0; DowngradePct and ErrPct
// have one value for each interval between nodes.
type Hill struct {
	StationM     []float64   // distance from the crest along the road
	DowngradePct []float64   // positive going down, recovered
	ErrPct       []float64   // 95 % half-width of the mean over WindowM there; nil: LocalErrPct
	LocalErrPct  float64     // the same for the complete hill
	Windows      []WindowErr // bounds of longer means; nil: that over WindowM stands for all
	GradeErrPct  float64     // 95 % half-width of the mean over the complete hill
	ElevationM   []float64   // at the nodes; nil: unknown, Options.AltitudeM is used
	RadiusM      []float64   // curve radius at the nodes, +Inf straight; nil: unknown

	Limits        []routes.SpeedLimit // posted, on the route's stations
	FootStop      bool                // a stop or town at the foot
	EntrySpeedMPS float64             // expected at the crest; 0: unknown

	// Position of the hill on its route, so that answers name the route's stations.
	Direction routes.Direction
	StartM    float64 // the crest's station on the route
	StartErrM float64 // 95 % half-width of it
	RouteM    float64 // length of the route; 0: unknown
	Plain     bool    // made from one grade and one length
	CellM     float64 // of terrain that is as good as what the grade line was made from; 0: unknown

	hasDrives bool // recorded drives are in its grade line, at least on a part
}

// LengthM is the length from crest to foot.
func (h *Hill) LengthM() float64 {
	if len(h.StationM) == 0 {
		return 0
	}
	return h.StationM[len(h.StationM)-1]
}

// RouteStationM is the route's station of a distance from the crest in travel.
func (h *Hill) RouteStationM(distanceM float64) float64 {
	if h.Direction == routes.Backward {
		return h.StartM - distanceM
	}
	return h.StartM + distanceM
}

// PlainHill is a hill of one downgrade and one length, straight, with an exact grade and the
// altitude Options.AltitudeM.
func PlainHill(downgradePct, lengthM float64) Hill {
	return Hill{StationM: []float64{0, lengthM}, DowngradePct: []float64{downgradePct}, Plain: true}
}

// WithPosted returns the hill with a posted limit over all of it.
func WithPosted(h Hill, speedMPS float64) Hill {
	h.Limits = append(append([]routes.SpeedLimit{}, h.Limits...),
		routes.SpeedLimit{FromM: math.Inf(-1), ToM: math.Inf(1), SpeedMPS: speedMPS, Forward: true, Backward: true})
	return h
}

// WithCurve returns a plain hill with a curve of a radius somewhere on it: where is not known, so no
// part of the hill counts as straight.
func WithCurve(h Hill, radiusM float64) Hill {
	const stepM, mostNodes = 50.0, 20_000
	if !h.Plain || len(h.DowngradePct) != 1 || !(h.LengthM() > 0) {
		return h
	}
	n := int(min(mostNodes, math.Ceil(h.LengthM()/stepM)))
	out := h
	out.StationM, out.DowngradePct, out.RadiusM = []float64{0}, nil, []float64{radiusM}
	for i := 1; i <= n; i++ {
		out.StationM = append(out.StationM, h.LengthM()*float64(i)/float64(n))
		out.DowngradePct, out.RadiusM = append(out.DowngradePct, h.DowngradePct[0]), append(out.RadiusM, radiusM)
	}
	return out
}

// HillFromDescent extracts a descent from its profile, in travel. Nodes are the
// profile's stations between crest and foot and the two ends. Where the profile has a
// gap the downgrade is NaN, and Advise reports it. The local bound is wider by the
// amount that smoothing may have taken off a steep part there.
func HillFromDescent(p *routes.Profile, d *routes.Descent, limits []routes.SpeedLimit) Hill {
	h := Hill{
		Limits: limits, Direction: d.Direction, StartM: d.StartM, StartErrM: d.StartErrM,
		RouteM: p.LengthM, GradeErrPct: d.MeanDowngradeErrPct,
		LocalErrPct: p.Bound.MeanErrPct(WindowM, 0), CellM: coarsestOver(p, d.StartM, d.EndM),
	}
	lo, hi := min(d.StartM, d.EndM), max(d.StartM, d.EndM)
	const same = 1e-6 // metres: the end is the station
	at := []float64{lo}
	for i := max(0, int(math.Ceil(p.IndexFromStationM(lo)))); i < p.Count(); i++ {
		if s := p.StationM(i); s > lo+same && s < hi-same {
			at = append(at, s)
		} else if s >= hi {
			break
		}
	}
	at = append(at, hi)
	if d.Direction == routes.Backward {
		for i, j := 0, len(at)-1; i < j; i, j = i+1, j-1 {
			at[i], at[j] = at[j], at[i]
		}
	}
	for i, s := range at {
		h.StationM = append(h.StationM, math.Abs(s-d.StartM))
		h.ElevationM = append(h.ElevationM, p.ElevationAtM(min(s, p.LengthM)))
		h.RadiusM = append(h.RadiusM, radiusAt(p, s))
		if i == 0 {
			continue
		}
		h.DowngradePct = append(h.DowngradePct, 100*(h.ElevationM[i-1]-h.ElevationM[i])/(h.StationM[i]-h.StationM[i-1]))
		mid := (at[i-1] + s) / 2
		bound := p.BoundOver(mid-WindowM/2, mid+WindowM/2)
		err := bound.MeanErrPct(WindowM, 0)
		if stateAt(p, mid) != routes.Measured {
			err = max(err, bound.MeanErrPct(WindowM, WindowM))
		}
		if !reachesLineEnd(p, mid-WindowM/2, mid+WindowM/2) {
			err *= hiddenPartTimes(h.CellM)
		}
		err += easedPct(p, mid, d.Direction)
		h.ErrPct = append(h.ErrPct, err)
	}
	h.hasDrives = p.CellM == 0 || asGoodAsCellM(p, p.Bound) < p.CellM
	h.Windows = windowsFrom(p, &h)
	if len(h.Windows) > 0 {
		h.widenBounds(p)
	}
	return h
}

// easedPct is the amount by which the road may be steeper than recovered, in travel over the window
// around a station, because smoothing flattens a steep part.
func easedPct(p *routes.Profile, stationM float64, dir routes.Direction) float64 {
	lo := max(0, min(stationM-WindowM/2, p.LengthM-WindowM))
	return steepenedPct(p, lo, min(lo+WindowM, p.LengthM), dir)
}

// steepenedPct is the same between two stations.
func steepenedPct(p *routes.Profile, aM, bM float64, dir routes.Direction) float64 {
	e := p.EasePct(aM, bM) // rising forward
	if dir == routes.Forward {
		e = -e
	}
	return max(0, e)
}

// radiusAt is the smaller of the radii at the stations next to s.
func radiusAt(p *routes.Profile, s float64) float64 {
	if len(p.RadiusM) == 0 {
		return math.Inf(1)
	}
	i := max(0, min(int(p.IndexFromStationM(s)), len(p.RadiusM)-1))
	j := max(0, min(i+1, len(p.RadiusM)-1))
	r := math.Inf(1)
	for _, v := range []float64{p.RadiusM[i], p.RadiusM[j]} {
		if v > 0 && v < r {
			r = v
		}
	}
	return r
}

// stateAt is the worse state of the stations next to s.
func stateAt(p *routes.Profile, s float64) routes.StationState {
	if len(p.State) == 0 {
		return routes.Measured
	}
	i := max(0, min(int(p.IndexFromStationM(s)), len(p.State)-1))
	j := max(0, min(i+1, len(p.State)-1))
	return max(p.State[i], p.State[j])
}
