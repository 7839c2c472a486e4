package survey

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
)

// No way: the answer names what stops the truck and the one limit whose change opens one,
// though another closed way is shorter.
func TestWhatOpensAWay(t *testing.T) {
	class := testClass(t)
	class.HeightM, class.LengthM = 4.1, 22
	at := func(x, y float64) orb.Point { return orb.Point{8 + x/degreeEastM, 46 + y/degreeNorthM} }
	roads := func(direct, round string) []routes.Feature {
		road := func(id int, tag string, line ...orb.Point) routes.Feature {
			tags := map[string]string{"highway": "primary", "name": fmt.Sprint("Road ", id)}
			for _, kv := range strings.Fields(tag) {
				k, v, _ := strings.Cut(kv, "=")
				tags[k] = v
			}
			return routes.Feature{Line: line, Tags: tags, WayID: fmt.Sprint(id), Place: routes.Place{File: "drawn", Feature: id, IsWay: true}}
		}
		return []routes.Feature{road(1, direct, at(0, 0), at(3000, 0)), road(2, round, at(0, 0), at(1500, 2000), at(3000, 0))}
	}
	for _, c := range []struct{ direct, round, stops, opens string }{
		{"maxheight=3.9 hgv=no", "maxheight=4", "hgv=no", "a height of at most 4 m instead of 4.1 m would open a way of 5.0 km (way 2, Road 2, has maxheight=4)"},
		{"access=private", "maxlength=12", "access=private", "a length of at most 12 m instead of 22 m would open a way of 5.0 km (way 2, Road 2, has maxlength=12)"},
		{"maxweight=7.5", "access=no", "maxweight=7.5", "a mass, or a permit for it, of at most 7500 kg instead of 36287 kg would open a way of 3.0 km (way 1, Road 1, has maxweight=7.5)"},
		{"maxaxleload=5", "access=no", "maxaxleload=5", "an axle load of at most 5000 kg instead of 7711 kg would open a way of 3.0 km (way 1, Road 1, has maxaxleload=5)"},
		{"hgv=no", "access=no", "hgv=no", "a permit for 1 stretches of the shortest way, or a truck under these limits"},
	} {
		v := VehicleOf(&class, 0)
		g, _, err := network.NewGraph(roads(c.direct, c.round), nil, []orb.Point{at(0, 0), at(3000, 0)}, nil)
		if err != nil {
			t.Fatal(err)
		}
		q := TripQuery{Options: Options{Classes: []vehicle.Class{class}}, Vehicle: v, Prefer: ranking.PreferTime}
		got, err := FindTrips(context.Background(), drawnGround{}, g, q)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.List) > 0 || !strings.Contains(got.NoWay, c.stops) || got.Opens != c.opens {
			t.Errorf("%s and %s: %d ways, %q, %q", c.direct, c.round, len(got.List), got.NoWay, got.Opens)
		}
	}
}

// The figures of a class choose its roads; an axle carries more where the truck does.
func TestVehicleOfAClass(t *testing.T) {
	c := vehicle.Class{MassMaxKg: 40_000, HeightM: 4, LengthM: 16.5, AxleLoadKg: 10_000, IsHazmat: true}
	for massKg, want := range map[float64]network.Vehicle{
		0:      {MassKg: 40_000, HeightM: 4, LengthM: 16.5, AxleLoadKg: 10_000, IsHazmat: true},
		20_000: {MassKg: 20_000, HeightM: 4, LengthM: 16.5, AxleLoadKg: 10_000, IsHazmat: true},
		44_000: {MassKg: 44_000, HeightM: 4, LengthM: 16.5, AxleLoadKg: 11_000, IsHazmat: true},
	} {
		if got := VehicleOf(&c, massKg); got != want {
			t.Errorf("%v kg: %+v", massKg, got)
		}
	}
}

// Of the figures of the truck the one is named that changes by the least share, as by brute force over
// all ways.
func TestTheNearestChangeIsTheNearestOfAllWays(t *testing.T) {
	class := testClass(t)
	class.HeightM, class.LengthM, class.AxleLoadKg = 4.1, 22, 9000
	answers := 0
	for seed := uint64(1); seed <= 35; seed++ {
		rng := rand.New(rand.NewPCG(seed, 1805))
		features, turns, places, ground := drawnRoads(rng)
		for i := range features {
			delete(features[i].Tags, "maxweight")
			if rng.IntN(3) > 0 {
				k := rng.IntN(4)
				features[i].Tags[[]string{"maxheight", "maxlength", "maxweight", "maxaxleload"}[k]] = fmt.Sprint([]float64{2, 9, 6, 3}[k] + float64(rng.IntN(12)))
			}
		}
		g, _, err := network.NewGraph(features, turns, places, nil)
		if err != nil {
			t.Fatal(err)
		}
		v := VehicleOf(&class, 0)
		q := TripQuery{Options: Options{Classes: []vehicle.Class{class}}, Vehicle: v, Prefer: ranking.PreferLength, MostSurveys: 1 << 20}
		got, err := FindTrips(context.Background(), ground, g, q)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.List) > 0 || got.Refused != nil {
			continue
		}
		numberVertices(g, features)
		ways := allWays(g, turns, places[0], places[1], func(int32) bool { return true })
		if want, ok := nearestOfAll(g, ways, v); ok {
			answers++
			if !strings.HasPrefix(got.Opens, want) {
				t.Errorf("seed %d: %q, by all ways %q", seed, got.Opens, want)
			}
		}
	}
	t.Logf("%d answers", answers)
	if answers < 8 {
		t.Error("too few")
	}
}

// The mass that would be held is the greatest that any of all ways holds. Each road has a hill of a
// drawn greatest mass.
func TestTheHeaviestMassOfAllWays(t *testing.T) {
	class := testClass(t)
	for seed := uint64(1); seed <= 60; seed++ {
		rng := rand.New(rand.NewPCG(seed, 1806))
		features, turns, places, _ := drawnRoads(rng)
		g, _, err := network.NewGraph(features, turns, places, nil)
		if err != nil {
			t.Fatal(err)
		}
		numberVertices(g, features)
		heaviestKg := make([]float64, g.Edges())
		for e := range heaviestKg {
			heaviestKg[e] = 5000 + 30_000*rng.Float64()
		}
		v := VehicleOf(&class, 0)
		one := newTripper(g, TripQuery{Options: Options{Classes: []vehicle.Class{class}}, Vehicle: v, Prefer: ranking.PreferLength, MostSurveys: 1 << 20})
		one.result = func(_ context.Context, w network.Way, r *routes.Route) Result {
			p := &routes.Profile{StepM: r.LengthM, LengthM: r.LengthM, Reliable: true, GroundM: []float64{0, 0}, ElevationM: []float64{0, 0}, EaseM: []float64{0, 0},
				State: make([]routes.StationState, 2), Points: []orb.Point{r.Line[0], r.Line[1]}, RadiusM: []float64{math.Inf(1), math.Inf(1)}}
			res, atM := Result{Route: *r, Profile: p}, 0.0
			for _, e := range w.Edges {
				toM := atM + g.LengthM(e)
				res.Entries = append(res.Entries, catalog.Entry{Descent: routes.Descent{StartM: atM + 10, EndM: toM - 10}, Holds: []catalog.Hold{{Class: class.ID, HeaviestMassKg: heaviestKg[e]}}})
				atM = toM
			}
			return res
		}
		got, isProven, err := one.heaviestWay(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		most := 0.0
		for _, w := range allWays(g, turns, places[0], places[1], func(e int32) bool { return v.Refusal(g.Feature(e), g.Edge(e).IsReversed) == "" }) {
			least := math.Inf(1)
			for _, e := range w.Edges {
				least = math.Min(least, heaviestKg[e])
			}
			most = math.Max(most, least)
		}
		if found := got != nil; found != (most > 0) || !isProven || found && got.HeaviestMassKg(class.ID) != most {
			t.Errorf("seed %d: %v, proven %v, by all ways %.0f kg", seed, found, isProven, most)
		}
	}
}

// nearestOfAll is the beginning of the words for the figure that must change by the least share.
func nearestOfAll(g *network.Graph, ways []network.Way, v network.Vehicle) (words string, ok bool) {
	least := math.Inf(1)
	for _, c := range []struct {
		tag, words, unit string
		now, times       float64
		set              func(v *network.Vehicle, x float64)
	}{
		{"maxheight", "a height", "m", v.HeightM, 1, func(v *network.Vehicle, x float64) { v.HeightM = x }},
		{"maxlength", "a length", "m", v.LengthM, 1, func(v *network.Vehicle, x float64) { v.LengthM = x }},
		{"maxaxleload", "an axle load", "kg", v.AxleLoadKg, 1000, func(v *network.Vehicle, x float64) { v.AxleLoadKg = x }},
		{"maxweight", "a mass, or a permit for it,", "kg", v.MassKg, 1000, func(v *network.Vehicle, x float64) { v.AxleLoadKg, v.MassKg = v.AxleLoadKg*x/v.MassKg, x }},
	} {
		for _, w := range ways {
			most := c.now // the least of the limits on the way
			for _, e := range w.Edges {
				var x float64
				if n, _ := fmt.Sscan(g.Feature(e).Tags[c.tag], &x); n == 1 {
					most = math.Min(most, x*c.times)
				}
			}
			changed := v
			c.set(&changed, most)
			if c.tag == "maxweight" { // any of the signs' masses may be what lighter axles need
				for x := 6.0; x < 18; x++ {
					if lighter := v; x*1000 < most {
						c.set(&lighter, x*1000)
						if len(g.Refusals(w, lighter)) == 0 && len(g.Refusals(w, changed)) > 0 && isStated(g, "maxweight", x) {
							changed, most = lighter, x*1000
						}
					}
				}
			}
			if share := 1 - most/c.now; len(g.Refusals(w, changed)) == 0 && share < least-1e-12 {
				least, ok = share, true
				words = fmt.Sprintf("%s of at most %.5g %s instead of %.5g %s", c.words, most, c.unit, c.now, c.unit)
			}
		}
	}
	return words, ok
}

func isStated(g *network.Graph, tag string, x float64) bool {
	for e := range int32(g.Edges()) {
		if g.Feature(e).Tags[tag] == fmt.Sprint(x) {
			return true
		}
	}
	return false
}

// Where a class has no way, another class that may have its mass is named if it holds one, as by brute
// force over all ways.
func TestAnotherClassThatHoldsAWayIsNamed(t *testing.T) {
	ctx, weak := context.Background(), testClass(t)
	weak.HeightM, weak.LengthM, weak.AxleLoadKg = 4.1, 22, 9000
	weak.ID, weak.Truck.ReservePct = "weak", 75
	strong, light := weak, weak
	strong.ID, strong.Truck.ReservePct = "strong", 15
	light.ID, light.Truck.ReservePct, light.MassMaxKg = "light", 15, weak.MassMaxKg-1 // may not have the mass
	named, none := 0, 0
	for seed := uint64(1); seed <= 40 && named < 4; seed++ {
		features, turns, places, ground := drawnRoads(rand.New(rand.NewPCG(seed, 42)))
		g, _, err := network.NewGraph(features, turns, places, nil)
		if err != nil {
			t.Fatal(err)
		}
		q := TripQuery{Options: Options{Classes: []vehicle.Class{weak}}, Vehicle: VehicleOf(&weak, 0), Prefer: ranking.PreferTime, MostSurveys: 1 << 20, Others: []vehicle.Class{weak, light, strong}}
		got, err := FindTrips(ctx, ground, g, q)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.List) > 0 {
			continue
		}
		q.Classes, q.Vehicle, q.Others = []vehicle.Class{strong}, VehicleOf(&strong, 0), nil
		one := groundTripper(ground, g, q)
		numberVertices(g, features)
		bestS, lengthM := math.Inf(1), 0.0
		for _, w := range allWays(g, turns, places[0], places[1], func(e int32) bool { return q.Vehicle.Refusal(g.Feature(e), g.Edge(e).IsReversed) == "" }) {
			trip, err := one.survey(ctx, w)
			if err != nil {
				t.Fatal(err)
			}
			if trip.IsHeld && trip.TimeS < bestS {
				bestS, lengthM = trip.TimeS, trip.LengthM
			}
		}
		want := fmt.Sprintf("class strong at the same %.0f kg, which is held on a way of %.1f km", weak.MassMaxKg, lengthM/1000)
		switch is := strings.Contains(got.Opens, "class strong"); {
		case math.IsInf(bestS, 1):
			if none++; is {
				t.Errorf("seed %d: %q, but no way is held", seed, got.Opens)
			}
		default:
			if named++; !strings.HasSuffix(got.Opens, want) {
				t.Errorf("seed %d: %q, by all ways %q", seed, got.Opens, want)
			}
		}
	}
	if named < 4 {
		t.Errorf("only %d answers with a class, %d without", named, none)
	}
}

// Another class's truck keeps what the query states itself of height, length, axles and load.
func TestTheTruckOfAnotherClass(t *testing.T) {
	a := vehicle.Class{ID: "a", MassMaxKg: 40_000, HeightM: 4, LengthM: 16.5, AxleLoadKg: 10_000}
	b := vehicle.Class{ID: "b", MassMaxKg: 60_000, HeightM: 4.2, LengthM: 25, AxleLoadKg: 8000}
	q := TripQuery{Options: Options{Classes: []vehicle.Class{a}}, Vehicle: VehicleOf(&a, 0)}
	q.Vehicle.HeightM, q.Vehicle.IsHazmat = 3.5, true
	one := &tripper{query: q, class: &a, massKg: 40_000}
	if got, want := one.vehicleOf(&b), (network.Vehicle{MassKg: 40_000, HeightM: 3.5, LengthM: 25, AxleLoadKg: 8000, IsHazmat: true}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}
