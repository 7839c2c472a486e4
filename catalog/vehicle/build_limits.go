package vehicle

import (
	"fmt"

	"gradeline/catalog"
)

// signLimits reads what road signs limit and what climbs take. Height and length have no
// default: a road that limits what is not known is left out.
func (b builder) signLimits(in *classTOML) {
	c := b.c
	set := func(to *float64, v *float64) {
		if v != nil {
			*to = *v
		}
	}
	set(&c.HeightM, b.figure("height_m", in.HeightM, in.Height, catalog.DimensionLengthM))
	set(&c.LengthM, b.figure("length_m", in.LengthM, in.Length, catalog.DimensionLengthM))
	for _, a := range c.Truck.Axles {
		c.AxleLoadKg = max(c.AxleLoadKg, a.LoadKg/float64(max(1, a.Axles)))
	}
	set(&c.AxleLoadKg, b.figure("axle_load_kg", in.AxleLoadKg, in.AxleLoad, catalog.DimensionMassKg))
	c.IsHazmat = in.Hazmat
	powerW := b.figure("truck.engine_power_w", in.Truck.EnginePowerW, in.Truck.EnginePower, catalog.DimensionPowerW)
	c.Truck.EnginePowerW = b.or("truck.engine_power_w", powerW, defaultPowerWPerKg*c.MassMaxKg, "W", "5 kW a tonne, what the European Union asked of trucks; Directive 97/27/EC, annex I, 7.10", "from memory")
}

// checkLimits checks what road signs limit, where it is known.
func (c *Class) checkLimits(bad report) {
	for _, f := range []struct {
		path        string
		figure      float64
		least, most float64
		unit        string
	}{
		{"height_m", c.HeightM, 1.5, 6, "m"},
		{"length_m", c.LengthM, 4, 60, "m"},
		{"axle_load_kg", c.AxleLoadKg, 500, 30_000, "kg"},
		{"truck.engine_power_w", c.Truck.EnginePowerW, 20_000, 1_500_000, "W"},
	} {
		if f.figure != 0 {
			within(f.path, f.figure, f.least, f.most, f.unit, bad)
		}
	}
	if kg := c.AxleLoadKg; kg > c.MassMaxKg && c.MassMaxKg > 0 {
		bad.fault("axle_load_kg", fmt.Sprintf("%s is more than the truck", bad.show("axle_load_kg", kg, "kg")), "give the heaviest axle's load")
	}
}
