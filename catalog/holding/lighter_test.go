package holding

import (
	"testing"

	"pgregory.net/rapid"
)

// The search for a lighter mass answers for each as the gears and speeds asked one by one do.
func TestSearchOfALighterMass(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	held, not := 0, 0
	property := func(t *rapid.T) {
		c := genClass(t)
		if rapid.Bool().Draw(t, "default class") { // some with axle loads of the empty truck, some with a retarder of the trailer
			c = rapid.SampledFrom(classes).Draw(t, "class")
		} else {
			lightKg := c.Truck.Axles[0].LoadKg * rapid.Float64Range(0.05, 0.6).Draw(t, "driven load") // grip counts
			c.Truck.Axles[0].LoadKg, c.Truck.Axles[1].LoadKg = lightKg, c.MassMaxKg-lightKg
		}
		h := genHill(t, rapid.Bool().Draw(t, "heights"))
		p, err := newProblem(&h, &c, genOptions(t, c))
		if err != nil {
			t.Fatal(err)
		}
		search := p.newGripSearch(p.massKg)
		if len(search.cases) == 0 {
			not++
		}
		for range 12 { // masses in any order: what one teaches must be true of the next
			kg := rapid.Float64Range(lightestSearchedKg, p.massKg).Draw(t, "mass of the search")
			want := p.isHeldAt(kg)
			if got := len(search.cases) > 0 && search.holds(kg); got != want {
				t.Fatalf("%.1f kg: %v by the search, %v by every gear and speed", kg, got, want)
			}
			if want {
				held++
			} else {
				not++
			}
		}
	}
	checkUntil(t, func() bool { return held > 100 && not > 100 }, property)
}

// The lighter mass that is said to be held is held, and is the heaviest of its kind: no heavier one is among
// those in 60 even steps from the heaviest by power, or the truck's own, down to 1 t.
func TestALighterMassThatIsHeld(t *testing.T) {
	found, none, byPower := 0, 0, 0
	property := func(t *rapid.T) {
		c := genClass(t)
		lightKg := c.Truck.Axles[0].LoadKg * rapid.Float64Range(0.05, 0.6).Draw(t, "driven load") // grip counts
		c.Truck.Axles[0].LoadKg, c.Truck.Axles[1].LoadKg = lightKg, c.MassMaxKg-lightKg
		h := genHill(t, false)
		p, err := newProblem(&h, &c, genOptions(t, c))
		if err != nil {
			t.Fatal(err)
		}
		byPowerKg := rapid.Float64Range(0, 1.5*p.massKg).Draw(t, "heaviest by power")
		kg, fromKg := p.lighterHeldKg(byPowerKg), min(byPowerKg, p.massKg)
		switch {
		case kg == 0:
			none++
		case kg == byPowerKg:
			byPower++
		default:
			found++
		}
		if kg > fromKg || kg > 0 && !p.isHeldAt(kg) {
			t.Fatalf("%.2f of %.2f kg: held is %v", kg, fromKg, p.isHeldAt(kg))
		}
		if byPowerKg <= p.massKg && byPowerKg >= 1 && p.isHeldAt(byPowerKg) && kg != byPowerKg {
			t.Fatalf("%.2f kg is held, said to be %.2f", byPowerKg, kg)
		}
		for i := 1; i < 60 && fromKg >= 1000; i++ {
			if gridKg := fromKg + (1000-fromKg)*float64(i)/60; gridKg > kg*(1+1e-9) && p.isHeldAt(gridKg) {
				t.Fatalf("%.2f kg is held, said to be %.2f of %.2f", gridKg, kg, fromKg)
			}
		}
	}
	checkUntil(t, func() bool { return min(found, none, byPower) >= 20 }, property)
}
