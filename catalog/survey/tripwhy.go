package survey

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/routes/network"
)

// explain says why there is no way, and the nearest change that would open one.
func (t *tripper) explain(ctx context.Context, out *Trips) error {
	free := make([]float64, t.graph.Edges())
	for i := range free {
		free[i] = t.graph.Edge(int32(i)).LengthM
	}
	if out.Refused == nil { // the truck may not even drive there
		found, err := t.graph.Best(ctx, network.Query{EdgeCost: free, MostSurveys: 1, Judge: anyWay})
		if err != nil {
			return err
		}
		if found.First == nil {
			out.NoWay, out.Opens = gapWords(t.graph.GapBetween(), t.graph.Places())
			return nil
		}
		out.Blocked = t.graph.Refusals(*found.First, t.query.Vehicle)
		out.NoWay = "every way is closed to this truck"
		if len(out.Blocked) > 0 {
			b := out.Blocked[0]
			out.NoWay += fmt.Sprintf("; on the shortest: %s by %s", wayName(&b), b.Why)
			out.Opens = fmt.Sprintf("a permit for %d stretches of the shortest way, or a truck under these limits", len(out.Blocked))
		}
		return t.nearestPermit(ctx, free, out)
	}
	out.NoWay = "no way is known to be held by this truck: " + out.Refused.Why + " on the shortest"
	unknown := 0
	for _, trip := range t.kept {
		if !trip.IsKnown {
			unknown++
		}
	}
	lighter, isProven, err := t.heaviestWay(ctx)
	if err != nil {
		return err
	}
	switch {
	case lighter != nil && lighter.HeaviestMassKg(t.class.ID) < t.massKg:
		kg := math.Floor(lighter.HeaviestMassKg(t.class.ID))
		out.Opens = fmt.Sprintf("%.0f kg instead of %.0f kg (%.0f %% less) would be held on a way of %.1f km", kg, t.massKg, math.Ceil(100*(1-kg/t.massKg)), lighter.LengthM/1000)
		if !isProven {
			out.Opens += fmt.Sprintf("; %d ways were surveyed, others may hold more", len(t.kept))
		}
	case unknown > 0:
		out.Opens = "a survey of the stretches that are not known with their terrain, or --allow-unknown"
	default:
		out.Opens = "a class with a stronger retarder"
	}
	if !out.IsProven {
		out.NoWay += fmt.Sprintf("; the search was given up after %d ways", len(t.kept))
	}
	return nil
}

// wayName is the number of a way, with its name where it has one.
func wayName(r *network.Refusal) string {
	if r.Name == "" {
		return "way " + r.WayID
	}
	return fmt.Sprintf("way %s (%s)", r.WayID, r.Name)
}

// gapWords say why no road leads through the places, and what would.
func gapWords(gap network.Gap, places int) (noWay, opens string) {
	name := func(i int) string {
		switch i {
		case 0:
			return "the start"
		case places - 1:
			return "the end"
		}
		return fmt.Sprintf("via place %d", i)
	}
	from, to := name(gap.Leg), name(gap.Leg+1)
	switch {
	case gap.IsSamePlace:
		return fmt.Sprintf("%s and %s are one place of the network", from, to), "places that are farther apart"
	case gap.IsAgainst:
		return fmt.Sprintf("from %s to %s the roads that were read lead only against one-way roads", from, to), "another place near the one-way road, more classes of road (--roads), or a larger extract"
	case gap.IsTurn:
		return "the roads that were read lead through the places only with a turn that is not allowed, or by turning back on the road", "places that a truck can pass without turning back, or more classes of road (--roads)"
	}
	return fmt.Sprintf("the roads that were read do not lead from %s to %s", from, to), "places a little off roads that leave the data, more classes of road (--roads), or a larger extract"
}

// heaviestWay finds the known way that holds the greatest mass: each search looks for one that holds
// more than the last. A way that is held on a dry road counts; its excluded surfaces are reported
// with every trip.
func (t *tripper) heaviestWay(ctx context.Context) (best *Trip, isProven bool, err error) {
	mostKg := 0.0
	costs := t.edgeCosts()
	for {
		judge := func(ctx context.Context, w network.Way) (network.Verdict, error) {
			trip, err := t.survey(ctx, w)
			if err != nil {
				return network.Verdict{}, err
			}
			v := network.Verdict{IsHeld: trip.IsKnown && trip.HeaviestMassKg(t.class.ID) > mostKg, Cost: t.leastCost(w, costs)}
			if trip.IsKnown && !v.IsHeld {
				for i := range trip.Entries {
					d := &trip.Entries[i].Descent
					if h := catalog.HoldFor(trip.Entries[i].Holds, t.class.ID); h == nil || h.HeaviestMassKg <= mostKg {
						v.FailedM = append(v.FailedM, [2]float64{d.StartM, d.EndM})
					}
				}
			} else if !trip.IsKnown {
				v.FailedM = trip.UnknownM
			}
			return v, nil
		}
		found, err := t.graph.Best(ctx, network.Query{EdgeCost: costs, TurnCost: t.turnCost(), MostSurveys: t.query.MostSurveys, Judge: judge, SlackShare: 1})
		if err != nil {
			return nil, false, err
		}
		if found.Best == nil {
			return best, found.IsProven, nil
		}
		if best, err = t.survey(ctx, *found.Best); err != nil {
			return nil, false, err
		}
		mostKg = best.HeaviestMassKg(t.class.ID)
	}
}

// limitChange is a figure of the truck that road signs limit.
type limitChange struct {
	words, unit string
	figure      func(*network.Vehicle) *float64
}

// nearestPermit looks for the one figure of the truck whose change opens a way, and says it in place
// of what would open the shortest. Nearest is the figure that changes by the least share of itself; a
// figure that the class does not state comes before all, another load after all.
func (t *tripper) nearestPermit(ctx context.Context, free []float64, out *Trips) error {
	least, words := math.Inf(1), ""
	var way *network.Way
	for _, c := range []limitChange{
		{"a height", "m", func(v *network.Vehicle) *float64 { return &v.HeightM }},
		{"a length", "m", func(v *network.Vehicle) *float64 { return &v.LengthM }},
		{"an axle load", "kg", func(v *network.Vehicle) *float64 { return &v.AxleLoadKg }},
		{"a mass, or a permit for it,", "kg", func(v *network.Vehicle) *float64 { return &v.MassKg }},
	} {
		now := *c.figure(&t.query.Vehicle)
		most, found, err := t.largest(ctx, free, c.figure)
		if err != nil {
			return err
		}
		share, instead := 0.0, " (the class does not say)"
		if now > 0 {
			share, instead = 1-most/now, fmt.Sprintf(" instead of %.5g %s", now, c.unit)
		}
		if found != nil && share < least {
			least, way = share, found
			words = fmt.Sprintf("%s of at most %.5g %s%s", c.words, most, c.unit, instead)
		}
	}
	if v := t.query.Vehicle; way == nil && v.IsHazmat {
		v.IsHazmat = false
		found, err := t.wayOf(ctx, free, &v)
		if err != nil {
			return err
		}
		way, words = found, "a load that is not hazardous"
	}
	if way == nil {
		return nil
	}
	out.Blocked = t.graph.Refusals(*way, t.query.Vehicle)
	out.Opens = fmt.Sprintf("%s would open a way of %.1f km", words, way.LengthM/1000)
	if len(out.Blocked) > 0 {
		b := out.Blocked[0]
		if b.Name != "" {
			b.WayID += ", " + b.Name + ","
		}
		out.Opens += fmt.Sprintf(" (way %s has %s)", b.WayID, b.Why)
	}
	return nil
}

// largest is the largest figure, below that of the truck, that opens a way; nil without one. Only
// figures that some sign states can be it.
func (t *tripper) largest(ctx context.Context, free []float64, figure func(*network.Vehicle) *float64) (most float64, way *network.Way, err error) {
	v := t.query.Vehicle
	var limits []float64
	for e := range int32(t.graph.Edges()) {
		for _, l := range network.StatedLimits(t.graph.Feature(e), figure) {
			if now := *figure(&v); now == 0 || l < now {
				limits = append(limits, l)
			}
		}
	}
	slices.Sort(limits)
	limits = slices.Compact(limits)
	lo, hi := 0, len(limits) // a smaller figure opens no less
	for lo < hi {
		mid := (lo + hi) / 2
		*figure(&v) = limits[mid]
		if asked := &t.query.Vehicle; figure(&v) == &v.MassKg && asked.MassKg > 0 { // lighter axles too
			v.AxleLoadKg = asked.AxleLoadKg * limits[mid] / asked.MassKg
		}
		found, err := t.wayOf(ctx, free, &v)
		if err != nil {
			return 0, nil, err
		}
		if found == nil {
			hi = mid
			continue
		}
		most, way, lo = limits[mid], found, mid+1
	}
	return most, way, nil
}

// wayOf is the shortest way that a vehicle may use; nil without one.
func (t *tripper) wayOf(ctx context.Context, free []float64, v *network.Vehicle) (*network.Way, error) {
	costs := slices.Clone(free)
	for e := range costs {
		if v.Refusal(t.graph.Feature(int32(e)), t.graph.Edge(int32(e)).IsReversed) != "" {
			costs[e] = math.Inf(1)
		}
	}
	found, err := t.graph.Best(ctx, network.Query{EdgeCost: costs, MostSurveys: 1, Judge: anyWay})
	return found.First, err
}

// anyWay calls every way held.
func anyWay(context.Context, network.Way) (network.Verdict, error) {
	return network.Verdict{IsHeld: true}, nil
}
