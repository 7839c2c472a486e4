package holding

import (
	"math"
	"math/rand/v2"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// drawnCurves is a hill of 12 km with grades of 2 to 7 % and a few curves of 12 to 72 m radius.
func drawnCurves(rng *rand.Rand) Hill {
	h := Hill{StationM: []float64{0}, LocalErrPct: 0.3, GradeErrPct: 0.1, RadiusM: []float64{math.Inf(1)}}
	grade := 3 + 4*rng.Float64()
	for i := 1; i <= 120; i++ {
		if rng.IntN(15) == 0 {
			grade = 2 + 5*rng.Float64()
		}
		radius := math.Inf(1)
		if rng.IntN(60) == 0 {
			radius = 12 + 60*rng.Float64()
		}
		h.StationM, h.DowngradePct, h.RadiusM = append(h.StationM, float64(i)*100), append(h.DowngradePct, grade), append(h.RadiusM, radius)
	}
	return h
}

// A driver who follows the advice by stretch with the retarder alone, less its reserve, on the steep
// end of the bound, and is out of gear for five seconds at each shift, is never above the engine's
// governed speed and takes no curve faster than it may be taken. Only on a planned slowing are the
// service brakes on, at the stated deceleration, and they end no hotter than stated and below their
// working range. Time steps of .05 s, seeds 1 to 40.
func TestStretchesAreDrivenOnTheRetarderAlone(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	hills, down, slowings, fasterS, slowerS := 0, 0, 0, 0.0, 0.0
	for seed := uint64(1); seed <= 40; seed++ {
		h := drawnCurves(rand.New(rand.NewPCG(seed, 1811)))
		for i := range classes {
			c := &classes[i]
			a := advise(t, h, *c, Options{})
			if !a.Holds {
				continue
			}
			hills++
			fasterS, slowerS = fasterS+a.TimeS, slowerS+h.LengthM()/a.SpeedMPS
			shifts, braked := driveStretches(t, seed, h, c, &a)
			down, slowings = down+shifts, slowings+braked
			if t.Failed() {
				return
			}
		}
	}
	t.Logf("%d hills with %d shifts down and %d slowings: %.0f h by stretch, %.0f h at one speed", hills, down, slowings, fasterS/3600, slowerS/3600)
	if hills < 200 || down < 30 || slowings < 30 {
		t.Error("too few")
	}
}

// driveStretches drives down a hill and returns the number of shifts down on the retarder, and of
// slowings by the service brakes.
func driveStretches(t *testing.T, seed uint64, h Hill, c *vehicle.Class, a *catalog.Hold) (down, slowings int) {
	const dt, slowWithinM, slackMPS = 0.05, 520.0, 0.15
	p, err := newProblem(&h, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	brakes := c.Truck.ServiceBrakes
	at, v, x, outS, brakeC := 0, a.Stretches[0].SpeedMPS, 0.0, 0.0, 65.6 // 150 °F
	for x < h.LengthM()-1 {
		s := &a.Stretches[at]
		if x >= s.ToM && at+1 < len(a.Stretches) {
			if s.Slowing != nil && (v > s.SpeedMPS+0.01 || brakeC > s.Slowing.ServiceBrakeTempC) {
				t.Errorf("seed %d, %s: %.2f m/s and brakes of %.0f °C after the slowing %+v", seed, c.ID, v, brakeC, s)
			}
			at++
			next := &a.Stretches[at]
			switch {
			case next.Slowing != nil:
				slowings++
			case next.Gear != s.Gear:
				outS = outOfGearS
				if next.Gear < s.Gear {
					down++
				}
			}
			s = next
		}
		k := min(int(x/100), len(h.DowngradePct)-1)
		pull := vehicle.PullMPS2(h.DowngradePct[k]+h.LocalErrPct, c.Truck.RollingResistance) - p.airflowAt(v).dragN(&p.long[0])/a.MassKg
		if s.Slowing != nil { // half a metre per second squared, then the foot holds it while the gear goes in
			slows := pull
			if v > s.SpeedMPS {
				slows = pull + 0.5
			}
			brakeC = brakes.Balance().TempC(brakeC, 32.2, max(0, slows)*a.MassKg*v/float64(brakes.Count), v, dt)
			if brakeC > 93.34 { // 200 °F
				t.Errorf("seed %d, %s: brakes of %.1f °C", seed, c.ID, brakeC)
				return down, slowings
			}
			v, x = max(s.SpeedMPS, v+(pull-slows)*dt), x+v*dt
			continue
		}
		target := s.SpeedMPS
		if at+1 < len(a.Stretches) && s.ToM-x < slowWithinM && a.Stretches[at+1].Slowing == nil {
			target = math.Min(target, a.Stretches[at+1].SpeedMPS)
		}
		slows := 0.0
		if outS -= dt; outS <= 0 && v > target {
			slows = (1 - p.reserve) * p.wheelPower(s.Gear, v).AtW(p.leastEngineShare) / v / a.MassKg
		}
		if outS <= 0 && v <= target { // the stage that holds it
			slows = pull
		}
		v, x = math.Max(v+(pull-slows)*dt, math.Min(v, target)), x+v*dt
		if governed := c.Truck.SpeedFromRPM(s.Gear, c.Truck.EngineMaxRPM); outS <= 0 && v > governed+slackMPS {
			t.Errorf("seed %d, %s: %.2f m/s at %.0f m in gear %d, governed at %.2f: %+v, %v", seed, c.ID, v, x, s.Gear, governed, a.Stretches, h.DowngradePct[95:])
			return down, slowings
		}
		if n := int(math.Round(x / 100)); math.Abs(x-h.StationM[n]) < 2 {
			if most, _ := vehicle.CurveSpeedMPS(h.RadiusM[n], c.CurveRolloverShare()); v > most+slackMPS {
				t.Errorf("seed %d, %s: %.2f m/s in the curve at %.0f m, %.2f may be driven: %+v", seed, c.ID, v, x, most, a.Stretches)
				return down, slowings
			}
		}
	}
	return down, slowings
}
