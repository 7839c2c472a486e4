package survey

import (
	"context"
	"fmt"
	"math"

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
			out.NoWay, out.Opens = "the roads that were read do not lead from one place to the other", "places a little off roads that leave the data, more classes of road (--roads), or a larger extract"
			return nil
		}
		out.Blocked = t.graph.Refusals(*found.First, t.query.Vehicle)
		out.NoWay = "every way is closed to this truck"
		if len(out.Blocked) > 0 {
			b := out.Blocked[0]
			out.NoWay += fmt.Sprintf("; on the shortest: way %s (%s) by %s", b.WayID, b.Name, b.Why)
			out.Opens = fmt.Sprintf("a permit for %d stretches of the shortest way, or a truck under these limits", len(out.Blocked))
		}
		return t.nearestPermit(ctx, free, out)
	}
	out.NoWay = "no way is known to be held by this truck: " + out.Refused.Why + " on the shortest"
	heaviestKg, unknown := 0.0, 0
	for _, trip := range t.kept {
		if !trip.IsKnown {
			unknown++
			continue
		}
		heaviestKg = math.Max(heaviestKg, trip.HeaviestMassKg(t.class.ID))
	}
	switch {
	case heaviestKg > 0:
		out.Opens = fmt.Sprintf("%.0f kg instead of %.0f kg would be held on one of the %d ways that were surveyed", math.Floor(heaviestKg), t.massKg, len(t.kept))
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

// nearestPermit looks for one limit alone that keeps the truck from a way, and says which
// in place of what would open the shortest.
func (t *tripper) nearestPermit(ctx context.Context, free []float64, out *Trips) error {
	const none = 1e-6 // is under every stated limit
	for _, change := range []struct {
		words string
		to    func(*network.Vehicle)
	}{
		{"a lower truck, or its height if the class leaves it out", func(v *network.Vehicle) { v.HeightM = none }},
		{"a shorter truck, or its length if the class leaves it out", func(v *network.Vehicle) { v.LengthM = none }},
		{"a load that is not hazardous", func(v *network.Vehicle) { v.IsHazmat = false }},
		{"lighter axles", func(v *network.Vehicle) { v.AxleLoadKg = none }},
		{"less mass, or a permit", func(v *network.Vehicle) { v.MassKg, v.AxleLoadKg = none, none }},
	} {
		v := t.query.Vehicle
		if change.to(&v); v == t.query.Vehicle {
			continue
		}
		costs := append([]float64(nil), free...)
		for e := range costs {
			if v.Refusal(t.graph.Feature(int32(e)), t.graph.Edge(int32(e)).IsReversed) != "" {
				costs[e] = math.Inf(1)
			}
		}
		found, err := t.graph.Best(ctx, network.Query{EdgeCost: costs, MostSurveys: 1, Judge: anyWay})
		if err != nil {
			return err
		}
		if found.First == nil {
			continue
		}
		out.Blocked = t.graph.Refusals(*found.First, t.query.Vehicle)
		out.Opens = fmt.Sprintf("%s would open a way of %.1f km", change.words, found.First.LengthM/1000)
		if len(out.Blocked) > 0 {
			b := out.Blocked[0]
			out.Opens += fmt.Sprintf(" (way %s, %s, has %s)", b.WayID, b.Name, b.Why)
		}
		return nil
	}
	return nil
}

// anyWay calls every way held.
func anyWay(context.Context, network.Way) (network.Verdict, error) {
	return network.Verdict{IsHeld: true}, nil
}
