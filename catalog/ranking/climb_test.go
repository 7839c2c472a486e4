package ranking

import (
	"math"
	"testing"

	"gradeline/catalog/vehicle"
)

// 36,287 kg on 6 % up with 300 kW at the flywheel and 95 % at the wheels. By hand: the
// hill takes 36,287·9.80665·(sin 3.4336° + 0.0053·cos) N = 23.19 kN, air at 12 m/s
// ½·1.225·5·144 = 441 N, and 285 kW over 23.63 kN is 12.06 m/s.
func TestClimbByHand(t *testing.T) {
	c := &vehicle.Class{MassMaxKg: 36_287, Truck: vehicle.Truck{DrivelineEfficiency: 0.95, RollingResistance: 0.0053, DragAreaM2: 5, EnginePowerW: 300_000}}
	if v := climbSpeedMPS(c, 36_287, 6, 25); math.Abs(v-12.06) > 0.08 {
		t.Errorf("%.2f m/s, by hand 12.06", v)
	}
	// Without a stated power it is 5 kW a tonne: 181 kW, so 7.40 m/s with 167 N of air.
	c.Truck.EnginePowerW = 0
	if v := climbSpeedMPS(c, 36_287, 6, 25); math.Abs(v-7.38) > 0.06 {
		t.Errorf("%.2f m/s, by hand 7.38", v)
	}
}

// A stronger engine is never slower, a heavier truck or a steeper climb never faster.
func TestClimbOrder(t *testing.T) {
	c := &vehicle.Class{MassMaxKg: 40_000, Truck: vehicle.Truck{DrivelineEfficiency: 0.95, RollingResistance: 0.0053, DragAreaM2: 5}}
	at := func(powerW, massKg, pct float64) float64 {
		c.Truck.EnginePowerW = powerW
		return climbSpeedMPS(c, massKg, pct, 25)
	}
	for _, pct := range []float64{0.5, 2, 4, 8, 14} {
		v := at(300_000, 40_000, pct)
		if at(330_000, 40_000, pct) < v || at(300_000, 44_000, pct) > v || at(300_000, 40_000, pct+1) > v {
			t.Errorf("%v %%: %.2f m/s, stronger %.2f, heavier %.2f, steeper %.2f", pct, v, at(330_000, 40_000, pct), at(300_000, 44_000, pct), at(300_000, 40_000, pct+1))
		}
	}
}
