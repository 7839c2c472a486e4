package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
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
	const gear, whole = 6, 22
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
