package ranking

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// Prefer is the order of ways that are held.
type Prefer string

// The preferences. Margin is the unused share of the retarder on the hardest descent, in steps of
// ten points, then time.
const (
	PreferTime   Prefer = "time"
	PreferLength Prefer = "length"
	PreferMargin Prefer = "margin"
)

// ParsePrefer reads a preference; an empty text is time.
func ParsePrefer(text string) (Prefer, error) {
	switch p := Prefer(text); p {
	case PreferTime, PreferLength, PreferMargin:
		return p, nil
	case "":
		return PreferTime, nil
	}
	return "", fmt.Errorf("%q is not a preference: use time, length or margin", text)
}

// Trip is a way from one place to another, driven forward along its line, with its descents.
type Trip struct {
	LengthM  float64
	TimeS    float64
	Entries  []catalog.Entry // the descents, in travel
	IsKnown  bool            // the grade line is known and reliable everywhere
	Unknown  string          // why not
	UnknownM [][2]float64    // where
}

// NotHeld are the descents that a class does not hold, by station.
func (t *Trip) NotHeld(class string) [][2]float64 {
	var out [][2]float64
	for i := range t.Entries {
		if h := holdOf(&t.Entries[i], class); h == nil || !h.Holds {
			out = append(out, [2]float64{t.Entries[i].Descent.StartM, t.Entries[i].Descent.EndM})
		}
	}
	return out
}

// MarginStep is the unused share of the retarder on the hardest descent in tens of points: 10
// without a descent, 0 also where one is not held.
func (t *Trip) MarginStep(class string) int {
	step := 10
	for i := range t.Entries {
		h := holdOf(&t.Entries[i], class)
		if h == nil || !h.Holds {
			return 0
		}
		// A retarder that is in use to 40.0 % leaves six steps, to 40.1 % five.
		step = min(step, int(math.Floor((100-h.RetarderUsePct)/10+1e-9)))
	}
	return max(0, step)
}

// HeaviestMassKg is the mass up to which every descent is held; 0 without a descent.
func (t *Trip) HeaviestMassKg(class string) float64 {
	least := math.Inf(1)
	for i := range t.Entries {
		h := holdOf(&t.Entries[i], class)
		if h == nil {
			return 0
		}
		least = math.Min(least, h.HeaviestMassKg)
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// SurfacesOut are the road surfaces on which some descent is not held, in order of travel.
func (t *Trip) SurfacesOut(class string) []string {
	out := []string{}
	seen := map[string]bool{}
	for i := range t.Entries {
		if h := holdOf(&t.Entries[i], class); h != nil {
			for _, s := range h.SurfacesOut {
				if !seen[s] {
					seen[s] = true
					out = append(out, s)
				}
			}
		}
	}
	return out
}

// order holds the figures that a preference compares.
type order struct {
	marginStep     int
	timeS, lengthM float64
}

// compare orders by the preference, then time, then length. All ways that are held are ordered by it.
func (a order) compare(b order, p Prefer) int {
	byTime, byLength := cmp.Compare(a.timeS, b.timeS), cmp.Compare(a.lengthM, b.lengthM)
	switch p {
	case PreferLength:
		return cmp.Or(byLength, byTime)
	case PreferMargin:
		return cmp.Or(cmp.Compare(b.marginStep, a.marginStep), byTime, byLength)
	}
	return cmp.Or(byTime, byLength)
}

// LowMargin are the descents that leave fewer tens of points of the retarder unused than step, by
// station.
func (t *Trip) LowMargin(class string, step int) [][2]float64 {
	var out [][2]float64
	for i := range t.Entries {
		if one := (Trip{Entries: t.Entries[i : i+1]}); one.MarginStep(class) < step {
			out = append(out, [2]float64{t.Entries[i].Descent.StartM, t.Entries[i].Descent.EndM})
		}
	}
	return out
}

// SortTrips orders trips that are held: by the preference, then time, then length.
func SortTrips(list []Trip, class string, p Prefer) {
	of := func(t *Trip) order { return order{t.MarginStep(class), t.TimeS, t.LengthM} }
	slices.SortStableFunc(list, func(a, b Trip) int { return of(&a).compare(of(&b), p) })
}

// Assumptions of a trip's time, in addition to posted limits and advice.
const (
	// noLimitMPS is the speed where no limit is stated: 80 km/h, a usual limit of heavy vehicles
	// outside towns; from memory.
	noLimitMPS = 80 * routes.KilometrePerHourMPS
	// climbWPerKg is the engine's power by mass where a class does not state it: 5 kW/t, which the
	// European Union required of trucks (Directive 97/27/EC, Annex I, 7.10; from memory). It
	// changes times, not whether a hill is held.
	climbWPerKg   = 5.0
	leastSpeedMPS = 0.1 // so that no time is infinite
	crawlMPS      = 2.0 // least speed of a climb; a slower truck is in the wrong class
)

// TopSpeedMPS is the highest speed of a class's truck on any road.
func TopSpeedMPS(c *vehicle.Class) float64 {
	if c.SpeedMaxMPS > 0 {
		return c.SpeedMaxMPS
	}
	return 90 * routes.KilometrePerHourMPS // the usual speed limiter of heavy trucks; from memory
}

// EdgeSpeedMPS is the speed that a trip's time never exceeds where a limit, or none, is
// stated.
func EdgeSpeedMPS(c *vehicle.Class, limitMPS float64) float64 {
	if limitMPS <= 0 {
		limitMPS = noLimitMPS
	}
	return math.Min(limitMPS, TopSpeedMPS(c))
}

// TimeS is the time of a trip along a profile: at each station the least of the posted
// limit, the class's top speed, the speed of the curve, the speed that the engine's
// power allows on a climb, and on a descent the advised speed. Acceleration and braking
// are not counted. NaN heights count as level. It is undefined, +Inf, on a descent that
// is not held.
func TimeS(p *routes.Profile, limits []routes.SpeedLimit, entries []catalog.Entry, c *vehicle.Class, massKg float64) float64 {
	sum := 0.0
	for i := 0; i+1 < p.Count(); i++ {
		fromM, toM := p.StationM(i), p.StationM(i+1)
		mid := (fromM + toM) / 2
		v := FreeSpeedMPS(p, i, routes.Forward, limitAt(limits, mid), c, massKg)
		for k := range entries {
			d := &entries[k].Descent
			if mid < math.Min(d.StartM, d.EndM) || mid > math.Max(d.StartM, d.EndM) {
				continue
			}
			h := holdOf(&entries[k], c.ID)
			if h == nil || !h.Holds {
				return math.Inf(1)
			}
			v = math.Min(v, speedAt(h, mid))
		}
		sum += (toM - fromM) / math.Max(v, leastSpeedMPS)
	}
	return sum
}

// FreeSpeedMPS is the speed between stations i and i+1 without regard to descents: the
// least of the posted limit (0: none), the class's top speed, the speed of the curve,
// and the speed that the engine's power allows on a climb in the direction of travel.
func FreeSpeedMPS(p *routes.Profile, i int, dir routes.Direction, limitMPS float64, c *vehicle.Class, massKg float64) float64 {
	v := CurveLimitMPS(p, i, limitMPS, c)
	if pct := ClimbPct(p, i, dir); pct > 0 {
		v = math.Min(v, climbSpeedMPS(c, massKg, pct, v))
	}
	return math.Max(v, leastSpeedMPS)
}

// ClimbPct is the grade between stations i and i+1 in a direction of travel, rising positive.
func ClimbPct(p *routes.Profile, i int, dir routes.Direction) float64 {
	if dir == routes.Backward {
		return -p.GradePct(i)
	}
	return p.GradePct(i)
}

// CurveLimitMPS is FreeSpeedMPS without the effect of climbs. A station's radius is the tightest
// within half a step of it, so between two stations the wider one counts. The time through a curve
// then does not depend on the places of the stations.
func CurveLimitMPS(p *routes.Profile, i int, limitMPS float64, c *vehicle.Class) float64 {
	return limitedMPS(EdgeSpeedMPS(c, limitMPS), curveMPS(p, i, c))
}

func limitedMPS(limitMPS, curveMPS float64) float64 {
	return math.Max(math.Min(limitMPS, curveMPS), leastSpeedMPS)
}

// curveMPS is the speed of the curve between stations i and i+1; +Inf where there is none.
func curveMPS(p *routes.Profile, i int, c *vehicle.Class) float64 {
	if len(p.RadiusM) <= i+1 {
		return math.Inf(1)
	}
	v, _ := vehicle.CurveSpeedMPS(math.Max(p.RadiusM[i], p.RadiusM[i+1]), c.CurveRolloverShare())
	return v
}

// Curves gives CurveLimitMPS for all of a profile. It works out the speed of each curve once.
type Curves struct {
	profile *routes.Profile
	class   *vehicle.Class
	mps     []float64 // between stations i and i+1; 0: not worked out
}

// NewCurves prepares the curves of a profile for a class.
func NewCurves(p *routes.Profile, c *vehicle.Class) *Curves {
	return &Curves{p, c, make([]float64, p.Count())}
}

// LimitMPS is CurveLimitMPS between stations i and i+1.
func (k *Curves) LimitMPS(i int, limitMPS float64) float64 {
	if k.mps[i] == 0 {
		k.mps[i] = curveMPS(k.profile, i, k.class)
	}
	return limitedMPS(EdgeSpeedMPS(k.class, limitMPS), k.mps[i])
}

// ClimbLimitMPS is FreeSpeedMPS on a straight road of one grade, rising positive.
func ClimbLimitMPS(gradePct, limitMPS float64, c *vehicle.Class, massKg float64) float64 {
	v := EdgeSpeedMPS(c, limitMPS)
	if gradePct > 0 {
		v = math.Min(v, climbSpeedMPS(c, massKg, gradePct, v))
	}
	return math.Max(v, leastSpeedMPS)
}

// LostS is the additional time of a descent at the advised speed, compared with the limits of its
// road; 0 where it is not held.
func LostS(p *routes.Profile, limits []routes.SpeedLimit, e *catalog.Entry, c *vehicle.Class, massKg float64) float64 {
	d, h := &e.Descent, holdOf(e, c.ID)
	if h == nil || !h.Holds {
		return 0
	}
	sum := 0.0
	lo, hi := math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
	for i := 0; i+1 < p.Count(); i++ {
		mid := (p.StationM(i) + p.StationM(i+1)) / 2
		if mid < lo || mid > hi {
			continue
		}
		free := FreeSpeedMPS(p, i, d.Direction, limitIn(limits, mid, d.Direction), c, massKg)
		sum += p.StepM * (1/math.Max(math.Min(free, speedAt(h, mid)), leastSpeedMPS) - 1/free)
	}
	return sum
}

// limitAt is the lowest limit for forward travel at a station; 0 if none is stated.
func limitAt(limits []routes.SpeedLimit, stationM float64) float64 {
	return limitIn(limits, stationM, routes.Forward)
}

// limitIn is limitAt in a direction of travel.
func limitIn(limits []routes.SpeedLimit, stationM float64, dir routes.Direction) float64 {
	low := 0.0
	for _, l := range limits {
		applies := l.Forward
		if dir == routes.Backward {
			applies = l.Backward
		}
		if applies && l.FromM <= stationM && stationM <= l.ToM && (low == 0 || l.SpeedMPS < low) {
			low = l.SpeedMPS
		}
	}
	return low
}

// speedAt is the advised speed of a hold at a station.
func speedAt(h *catalog.Hold, stationM float64) float64 {
	for _, s := range h.Stretches {
		if math.Min(s.FromM, s.ToM) <= stationM && stationM <= math.Max(s.FromM, s.ToM) && s.SpeedMPS > 0 {
			return s.SpeedMPS
		}
	}
	return h.SpeedMPS
}

// climbSpeedMPS is the speed at which the power equals that of grade, rolling resistance and air,
// by bisection below a wanted speed.
func climbSpeedMPS(c *vehicle.Class, massKg, gradePct, wantedMPS float64) float64 {
	engineW := c.Truck.EnginePowerW
	if engineW == 0 {
		engineW = climbWPerKg * c.MassMaxKg
	}
	powerW := engineW * c.Truck.DrivelineEfficiency
	needW := func(v float64) float64 {
		// A climb is a negative downgrade; resistance adds to it.
		pull := -vehicle.PullMPS2(-gradePct, 0) + vehicle.GravityMPS2*c.Truck.RollingResistance
		return (massKg*pull + vehicle.AirDensityKgM3(0, nil)/2*c.Truck.DragAreaM2*v*v) * v
	}
	if needW(wantedMPS) <= powerW {
		return wantedMPS
	}
	lo, hi := 0.0, wantedMPS
	for range 40 {
		if mid := (lo + hi) / 2; needW(mid) <= powerW {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Max(lo, math.Min(crawlMPS, wantedMPS))
}
