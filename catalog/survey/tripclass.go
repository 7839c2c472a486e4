package survey

import (
	"context"
	"fmt"
	"math"

	"gradeline/catalog/vehicle"
	"gradeline/routes/network"
)

// otherSurveys limits the ways that are surveyed for each other class: it is an answer to a question
// that was not asked.
const otherSurveys = 40

// addOtherClass adds to what would open a way the class that may have the same mass and has the
// quickest way that it holds.
func (t *tripper) addOtherClass(ctx context.Context, out *Trips) error {
	var best *Trip
	var class *vehicle.Class
	isGivenUp := false
	for i := range t.query.Others {
		c := &t.query.Others[i]
		if c.ID == t.class.ID || t.massKg < c.MassMinKg || t.massKg > c.MassMaxKg*(1+1e-9) {
			continue
		}
		trip, isProven, err := t.bestOf(ctx, c)
		if err != nil {
			return err
		}
		isGivenUp = isGivenUp || trip == nil && !isProven
		if trip != nil && (best == nil || trip.TimeS < best.TimeS) {
			best, class = trip, c
		}
	}
	var words string
	switch {
	case best != nil:
		words = fmt.Sprintf("or class %s at the same %.0f kg, which is held on a way of %.1f km", class.ID, t.massKg, best.LengthM/1000)
	case isGivenUp:
		words = fmt.Sprintf("of other classes at this mass no way was found, after %d ways of each", otherSurveys)
	default:
		return nil
	}
	if out.Opens != "" {
		words = out.Opens + "; " + words
	}
	out.Opens = words
	return nil
}

// bestOf is the best way of another class that it holds; nil without one.
func (t *tripper) bestOf(ctx context.Context, c *vehicle.Class) (best *Trip, isProven bool, err error) {
	q := t.query
	q.Classes, q.Vehicle, q.MassKg, q.MostSurveys, q.Others, q.Alternatives = []vehicle.Class{*c}, t.vehicleOf(c), t.massKg, otherSurveys, nil, 0
	other, err := t.forQuery(ctx, q)
	if err != nil {
		return nil, false, err
	}
	var found Trips
	best, err = other.best(ctx, other.edgeCosts(), &found)
	if best != nil && !best.IsHeld {
		best = nil
	}
	return best, found.IsProven, err
}

// vehicleOf is another class's truck with the figures that the query states itself.
func (t *tripper) vehicleOf(c *vehicle.Class) network.Vehicle {
	own, asked, v := VehicleOf(t.class, t.query.MassKg), t.query.Vehicle, VehicleOf(c, t.massKg)
	v.IsHazmat = asked.IsHazmat
	for _, f := range []func(*network.Vehicle) *float64{
		func(v *network.Vehicle) *float64 { return &v.HeightM },
		func(v *network.Vehicle) *float64 { return &v.LengthM },
		func(v *network.Vehicle) *float64 { return &v.AxleLoadKg },
	} {
		if math.Abs(*f(&asked)-*f(&own)) > 1e-9 {
			*f(&v) = *f(&asked)
		}
	}
	return v
}
