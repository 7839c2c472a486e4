package holding

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Options are the inputs besides the hill and the class.
type Options struct {
	MassKg     float64 // 0: advice for the class's whole range, its upper end for the speed
	ReservePct float64 // of the retarder, kept in reserve; 0: that of the class
	// Weather that the advice is for; nil: the standard atmosphere and TailwindMPS, as in handbooks'
	// cases. What drivers get has UsualWeather or other weather that was asked for.
	Weather    *catalog.Weather
	TempC      *float64 // of the air, in place of the weather's
	AltitudeM  *float64 // where the hill gives no elevation; nil: 1,500 m
	StopAtFoot bool     // a stop or town at the foot
	SightM     float64  // distance that the driver sees; 0: unknown, not limiting
	// Tail wind along the hill, 0 to MostTailwindMPS, in place of the weather's.
	TailwindMPS *float64
	ChargePct   *float64 // highest charge of the battery at the crest; nil: the class's
}

// PlainAltitudeM is the altitude of a hill that gives none: thin air, and the height up to which an
// engine brake is assumed to have its full power.
const PlainAltitudeM = 1500.0

// The range of Options.ReservePct.
const (
	LeastReservePct = 5.0
	MostReservePct  = 60.0
)

// HeaviestSearchedKg caps Hold.HeaviestMassKg.
const HeaviestSearchedKg = 200000.0

// altitudeM is the altitude of a hill without elevations.
func (o *Options) altitudeM() float64 {
	if o.AltitudeM != nil {
		return *o.AltitudeM
	}
	return PlainAltitudeM
}

// checkOptions refuses options that are impossible for a class.
func checkOptions(o *Options, c *vehicle.Class) error {
	bad := func(kind error, what, fix string) error {
		return &catalog.Fault{Kind: kind, Feature: "class " + c.ID, What: what, Fix: fix}
	}
	switch {
	case o.MassKg != 0 && !(o.MassKg >= 1000):
		return bad(catalog.ErrImpossible, fmt.Sprintf("%g kg is not a possible mass of a truck", o.MassKg), "use its mass on the road")
	case o.MassKg > c.MassMaxKg*(1+1e-4): // beyond the rounding of pounds
		return bad(catalog.ErrClass, fmt.Sprintf("%.0f kg is above the class's %.0f kg", o.MassKg, c.MassMaxKg), "choose a heavier class")
	case o.ReservePct != 0 && !(o.ReservePct >= LeastReservePct && o.ReservePct <= MostReservePct):
		return bad(catalog.ErrImpossible, fmt.Sprintf("a reserve of %g %%", o.ReservePct), "keep 5 to 60 % of the retarder in reserve")
	case o.ChargePct != nil && !(*o.ChargePct >= 0 && *o.ChargePct <= 100):
		return bad(catalog.ErrImpossible, fmt.Sprintf("a charge of %g %%", *o.ChargePct), "give the battery's charge at the crest, 0 to 100 %")
	case o.ChargePct != nil && !hasBattery(c):
		return bad(catalog.ErrClass, "no recuperation in this class", "leave the charge out, or choose an electric or hybrid class")
	case !(o.SightM >= 0) || math.IsInf(o.SightM, 1):
		return bad(catalog.ErrImpossible, fmt.Sprintf("a sight distance of %g m", o.SightM), "use the distance that the driver sees")
	}
	if what, fix := o.weatherFault(); what != "" {
		return bad(catalog.ErrImpossible, what, fix)
	}
	return nil
}

// weatherFault says what no road has of the air, and what to do; empty without a fault.
func (o *Options) weatherFault() (what, fix string) {
	coldC, hotC := o.airTempsC()
	switch altitudeM, tailMPS := o.altitudeM(), o.tailwindMPS(); {
	case coldC != nil && !(*coldC >= vehicle.ColdestC && *hotC <= vehicle.HottestC):
		return "air at " + strings.TrimPrefix(catalog.Weather{ColdestC: *coldC, HottestC: *hotC}.AirWords(catalog.Metric), "air of "), fmt.Sprintf("use the temperature of the air, %g to %g °C", vehicle.ColdestC, vehicle.HottestC)
	case coldC != nil && !(*coldC <= *hotC):
		return fmt.Sprintf("air of at least %g and at most %g °C", *coldC, *hotC), "give the coldest first"
	case !(altitudeM >= vehicle.LowestM && altitudeM <= vehicle.HighestM):
		return fmt.Sprintf("an altitude of %g m", altitudeM), "use the height above sea level"
	case !(tailMPS >= 0 && tailMPS <= MostTailwindMPS):
		return fmt.Sprintf("a tail wind of %g m/s", tailMPS), fmt.Sprintf("give the wind from behind, up to %g m/s; in more, wait", MostTailwindMPS)
	}
	return "", ""
}

// hasBattery reports whether a class's truck recuperates.
func hasBattery(c *vehicle.Class) bool {
	_, ok := c.Truck.Battery()
	return ok
}
