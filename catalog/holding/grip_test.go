package holding

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// What a stage puts on the driven wheels when it is switched on, by hand. us-5axle at
// 80,000 lb on 6 %: the class's curve at the advised engine speed, 351 kW·(n/2,100)^1.75
// (27 kW a litre of 13 L, from memory), 31 over 27 for the strongest brake of the class
// (from memory), over 95 % of the driveline; the drive tandem carries 15,422 kg (34,000 lb,
// bridge formula, published). Wet .35, snow .18, ice .08, of which two thirds may be used.
func TestAppliedFrictionByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := advise(t, PlainHill(6, 5000), c, Options{MassKg: c.MassMaxKg})
	if !h.Holds || h.Stage != 3 {
		t.Fatalf("%+v", h)
	}
	force := 351e3 * math.Pow(h.EngineRPM/2100, 1.75) * 1.15 / 0.95 / h.SpeedMPS
	want := force / (15422 * 9.80665 * math.Cos(math.Atan(0.06)))
	if math.Abs(h.FrictionApplied-want) > 0.005*want {
		t.Errorf("applied %.4f, by hand %.4f", h.FrictionApplied, want)
	}
	if got := strings.Join(h.SurfacesOut, ","); got != "packed snow,ice" || h.IsDryRoadOnly() {
		t.Errorf("excluded: %s", got)
	}
	// For the class's whole range the lightest decides: it locks its wheels first.
	r := advise(t, PlainHill(6, 5000), c, Options{})
	if r.SpeedMPS != h.SpeedMPS || !r.IsDryRoadOnly() || r.MassLightKg >= r.MassKg || r.FrictionApplied > 0.40001 || r.FrictionApplied <= h.FrictionApplied {
		t.Errorf("for all masses: %.0f to %.0f kg, applied %.3f, excluded %v", r.MassLightKg, r.MassKg, r.FrictionApplied, r.SurfacesOut)
	}
	if all := strings.Join(r.Cautions, "\n"); !strings.Contains(all, catalog.DryRoadOnly) || strings.Contains(all, "safe side") {
		t.Errorf("cautions: %s", all)
	}
}

// A nearly empty five-axle truck on 7 %: by its own axle loads (5,900 of 15,000 kg on the
// drive tandem, from memory) the stage that holds it takes more than a wet road gives.
func TestAnEmptyTruckKeepsOffTheWetRoad(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := advise(t, PlainHill(7, 5000), c, Options{MassKg: 15000})
	if !h.Holds {
		t.Fatalf("an empty truck is not held on 7 %%: %s, needs %.2f", h.LimitedBy, h.FrictionNeeded)
	}
	w := 5900 * 9.80665 * math.Cos(math.Atan(0.07))
	force := []float64{0, .33, .67, 1}[h.Stage] * 351e3 * math.Pow(h.EngineRPM/2100, 1.75) * 1.15 / 0.95 / h.SpeedMPS
	if math.Abs(h.FrictionApplied-force/w) > 0.005*force/w {
		t.Errorf("applied %.4f, by hand %.4f", h.FrictionApplied, force/w)
	}
	for i, s := range vehicle.Surfaces {
		if a := h.Surfaces[i]; a.Surface != s.Name || a.Allowed != (h.FrictionApplied <= s.Friction*2/3) {
			t.Errorf("%s: %+v", s.Name, a)
		}
	}
}

// On no drawn truck and hill does an answer allow a surface that its stage's own force
// exceeds: worked out again from the published view, at the lightest mass it is for.
func TestNoSurfaceIsAllowedBeyondItsGrip(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	checkUntil(t, func() bool { return seen >= 30 }, func(t *rapid.T) {
		c := classes[rapid.IntRange(0, len(classes)-1).Draw(t, "class")]
		var o Options
		if rapid.Bool().Draw(t, "one mass") {
			o.MassKg = rapid.Float64Range(c.MassMinKg, c.MassMaxKg).Draw(t, "mass")
		}
		pct := rapid.Float64Range(2, 11).Draw(t, "grade")
		h := advise(t, PlainHill(pct, 5000), c, o)
		if !h.Holds {
			return
		}
		seen++
		force := 0.0
		for i, l := range h.Levers {
			r := c.View().Retarders[i]
			if l.Stage == 0 {
				continue
			}
			if r.Kind == "driveline" {
				force += r.TorqueLimitNm * r.StageSharePct[l.Stage-1] / 100 * c.Truck.FinalDrive / c.Truck.RollingRadiusM
				continue
			}
			points := r.StagesPowerW[l.Stage-1]
			for k := 1; k < len(points); k++ {
				if a, b := points[k-1], points[k]; h.EngineRPM >= a[0] && h.EngineRPM <= b[0] {
					force += r.StrongestPct / 100 * (a[1] + (h.EngineRPM-a[0])/(b[0]-a[0])*(b[1]-a[1])) / h.SpeedMPS
				}
			}
		}
		var onAxles float64
		share := (h.MassLightKg - c.MassMinKg) / (c.MassMaxKg - c.MassMinKg)
		for _, a := range c.View().Axles {
			if a.Retarded {
				onAxles += a.EmptyKg + share*(a.LoadKg-a.EmptyKg)
			}
		}
		friction := force / c.Truck.DrivelineEfficiency / (onAxles * 9.80665)
		for i, s := range vehicle.Surfaces {
			if h.Surfaces[i].Allowed && friction > s.Friction*2/3*1.002 {
				t.Fatalf("%s on %.1f %%, %.0f kg: %s allowed, the stage needs %.3f", c.ID, pct, h.MassLightKg, s.Name, friction)
			}
		}
	})
}

// The friction of surfaces and the part of it that may be used are what they are said to
// be: low ends for truck tyres, from memory; two thirds, a bound without a source.
func TestSurfacesAreThoseStated(t *testing.T) {
	want := map[string]float64{"dry": 0.60, "wet": 0.35, "packed snow": 0.18, "ice": 0.08}
	for i, s := range vehicle.Surfaces {
		if s.Friction != want[s.Name] || math.Abs(vehicle.AllowedFriction(i)-want[s.Name]*2/3) > 1e-12 {
			t.Errorf("%s: %g, %g may be used", s.Name, s.Friction, vehicle.AllowedFriction(i))
		}
	}
}
