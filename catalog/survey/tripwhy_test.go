package survey

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/paulmach/orb"

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
		{"maxheight=3.9 hgv=no", "maxheight=4", "hgv=no", "a lower truck, or its height if the class leaves it out would open a way of 5.0 km (way 2, Road 2, has maxheight=4)"},
		{"access=private", "maxlength=12", "access=private", "a shorter truck, or its length if the class leaves it out would open a way of 5.0 km (way 2, Road 2, has maxlength=12)"},
		{"maxweight=7.5", "access=no", "maxweight=7.5", "less mass, or a permit would open a way of 3.0 km (way 1, Road 1, has maxweight=7.5)"},
		{"maxaxleload=5", "access=no", "maxaxleload=5", "lighter axles would open a way of 3.0 km (way 1, Road 1, has maxaxleload=5)"},
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
