package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// A hill is advised by blocks of about 500 m, and a block is faster only from three whole units on.
func TestBlocksOfAHill(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := PlainHill(1, 10_000)
	p, err := newProblem(&h, &c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	blocks := p.blocks()
	if len(blocks) != 20 {
		t.Fatalf("%d blocks of a hill of 10 km", len(blocks))
	}
	const gear, whole = 5, 15
	v := p.truck.SpeedFromRPM(gear, p.truck.EngineMinRPM)
	if v > p.speed(whole) || p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM) < p.speed(whole+3) {
		t.Fatalf("gear %d does not run at %d to %d mph", gear, whole, whole+3)
	}
	for faster, want := range map[int]int{0: whole, 2: whole, 3: whole + 3} {
		b := blocks[3]
		b.ceilingMPS = p.speed(whole+faster) + 0.01
		b.tryGears(whole, choice{gear: gear, lightKg: p.massKg}, math.Inf(1))
		if b.wholeByGear[0] != want {
			t.Errorf("%d mph faster on the block: %d mph, want %d", faster, b.wholeByGear[0], want)
		}
		if len(b.wholeByGear) != 5 {
			t.Errorf("%d gears tried, want the advised one and four above", len(b.wholeByGear))
		}
	}
}

// 360 MJ are 100 kWh, whatever is said of them.
func TestEnergyOfTheHillInKilowattHours(t *testing.T) {
	const energyJ = 100 * 3.6e6
	for _, c := range []catalog.Charge{
		{EnergyJ: energyJ, IsCounted: true, AtCrestPct: 50, FullPct: 95, MostAtCrestPct: 60},
		{EnergyJ: energyJ, MostAtCrestPct: -1},
		{EnergyJ: energyJ, RoomJ: energyJ, AtCrestPct: 90, FullPct: 95, MostAtCrestPct: 10},
	} {
		if s := chargeCaution(&c, catalog.Metric); !strings.Contains(s, "puts in up to 100 kWh") {
			t.Errorf("%s", s)
		}
	}
}

// Rolling resistance over .0075 is unusual: low-resistance tyres have less.
func TestRemarkOnRollingResistance(t *testing.T) {
	for crr, want := range map[float64]bool{0.0074: false, 0.0075: false, 0.0076: true} {
		c := mustClass(t, "us-5axle")
		c.Truck.RollingResistance = crr
		if got := strings.Contains(strings.Join(remarks(&c, catalog.US), "\n"), "rolling_resistance"); got != want {
			t.Errorf("%g: a remark %v, want %v", crr, got, want)
		}
	}
}

// The sensitivity table's answers are those of the mass and the grade that it names.
func TestSensitivityIsThatOfTheNamedChange(t *testing.T) {
	c := mustClass(t, "us-5axle")
	massKg := 0.9 * c.MassMaxKg
	told := map[string]bool{}
	for gradePct := 3.0; gradePct < 10; gradePct += 0.25 {
		h := PlainHill(gradePct, 9000)
		a := mustAdvise(t, h, c, Options{MassKg: massKg})
		for _, s := range a.Sensitivity {
			var want, beyond catalog.Hold
			switch s.Change {
			case "5 % lighter":
				want, beyond = mustAdvise(t, h, c, Options{MassKg: 0.95 * massKg}), mustAdvise(t, h, c, Options{MassKg: 0.9025 * massKg})
			case "5 % heavier":
				want, beyond = mustAdvise(t, h, c, Options{MassKg: 1.05 * massKg}), mustAdvise(t, h, c, Options{MassKg: 1.1025 * massKg})
			case "one point steeper":
				want, beyond = mustAdvise(t, PlainHill(gradePct+1, 9000), c, Options{MassKg: massKg}), mustAdvise(t, PlainHill(gradePct+1.05, 9000), c, Options{MassKg: massKg})
			default:
				continue
			}
			if s.Holds != want.Holds || s.Gear != want.Gear || math.Abs(s.SpeedMPS-want.SpeedMPS) > 1e-9 {
				t.Errorf("%g %%, %s: gear %d, %.2f m/s; advice for it is gear %d, %.2f m/s", gradePct, s.Change, s.Gear, s.SpeedMPS, want.Gear, want.SpeedMPS)
			}
			if beyond.SpeedMPS != want.SpeedMPS {
				told[s.Change] = true
			}
		}
	}
	if len(told) != 3 {
		t.Errorf("only %v would differ if the change were a twentieth greater", told)
	}
}

func mustAdvise(t *testing.T, h Hill, c vehicle.Class, o Options) catalog.Hold {
	t.Helper()
	out, err := Advise(h, c, o)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A piece has the bound of the interval that it lies in.
func TestPiecesHaveTheBoundOfTheirInterval(t *testing.T) {
	h := Hill{StationM: []float64{0, 100, 200, 300, 400}, DowngradePct: []float64{5, 5, 5, 5}, ErrPct: []float64{1, 4, 2, 3}}
	pieces := []span{{beginM: 0}, {beginM: 100}, {beginM: 200}, {beginM: 300}}
	boundLocally(&h, pieces)
	for i, want := range h.ErrPct {
		if pieces[i].errPct != want {
			t.Errorf("piece %d: ±%g, its interval ±%g", i, pieces[i].errPct, want)
		}
	}
	halves := []span{{beginM: 0}, {beginM: 50}, {beginM: 150}, {beginM: 250}}
	boundLocally(&h, halves)
	for i, want := range []float64{1, 4, 4, 3} {
		if halves[i].errPct != want {
			t.Errorf("piece from %g m: ±%g, want ±%g", halves[i].beginM, halves[i].errPct, want)
		}
	}
}

// A window over road that does not lie on the ground has the wider bound of such road; others keep
// theirs.
func TestWindowsOverABridgeAreWider(t *testing.T) {
	p := windowed()
	plain := hillBetween(p, 1000, 7000)
	for i := 300; i < 330; i++ {
		p.State[i] = routes.OnBridge
	}
	bridged := hillBetween(p, 1000, 7000)
	wider, same := 0, 0
	for i, e := range bridged.Windows[1].ErrPct {
		switch was := plain.Windows[1].ErrPct[i]; {
		case e > was:
			wider++
		case e == was:
			same++
		default:
			t.Fatalf("interval %d: ±%g with a bridge, ±%g without", i, e, was)
		}
	}
	if wider < 50 || same < 300 {
		t.Errorf("%d windows wider and %d the same", wider, same)
	}
}

// Why a gear does not hold the hill: it is too fast for another limit, or too weak.
func TestWhyAGearDoesNotHold(t *testing.T) {
	c := mustClass(t, "us-5axle")
	a := mustAdvise(t, WithPosted(PlainHill(7, 8000), 8), c, Options{})
	fast, weak := 0, 0
	for _, g := range a.Gears {
		lowest := c.Truck.SpeedFromRPM(g.Gear, c.Truck.EngineMinRPM)
		switch {
		case strings.HasPrefix(g.Why, "its lowest engine speed"):
			fast++
			if lowest <= 8-catalog.MilePerHourMPS {
				t.Errorf("gear %d runs from %.2f m/s, under the posted 8 m/s", g.Gear, lowest)
			}
		case g.Why == "the retarder's power is not enough":
			weak++
			if lowest > 8 {
				t.Errorf("gear %d runs from %.2f m/s, over the posted 8 m/s", g.Gear, lowest)
			}
		}
	}
	b := mustAdvise(t, PlainHill(7, 8000), c, Options{})
	for _, g := range b.Gears {
		if g.Why == "the retarder's power is not enough" {
			weak++
		}
	}
	if fast == 0 || weak == 0 {
		t.Errorf("%d gears too fast, %d too weak", fast, weak)
	}
}

func TestMinutesInWords(t *testing.T) {
	for s, want := range map[float64]string{20: "half a minute", 60: "a minute", 100: "2 minutes", 120: "2 minutes", 200: "3 minutes"} {
		if got := minutes(s); got != want {
			t.Errorf("%g s: %s, want %s", s, got, want)
		}
	}
}

// Windows over a stretch on coarser cells have that stretch's bound; others keep theirs.
func TestWindowsOnCoarserCellsHaveTheirBound(t *testing.T) {
	p := windowed()
	p.Bound.ElevationM = 1
	plain := hillBetween(p, 1000, 7000)
	wide := p.Bound
	wide.ElevationM, wide.SpanPct = 3, []float64{2, 1.2, 0.8, 0.5}
	p.Coarser = []routes.Part{{FromM: 5500, ToM: 6500, Bound: wide}}
	h := hillBetween(p, 1000, 7000)
	near := func(atM, wantPct float64) {
		t.Helper()
		i := int((atM - 1000) / 10)
		if got := h.Windows[1].ErrPct[i]; math.Abs(got-wantPct) > 0.02*wantPct {
			t.Errorf("500 m about %g m: ±%.3f points, want ±%.3f", atM, got, wantPct)
		}
	}
	near(6000, 1.2)
	near(5300, 1.2) // the window reaches into it
	near(2000, plain.Windows[1].ErrPct[100])
}
