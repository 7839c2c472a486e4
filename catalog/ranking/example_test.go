package ranking_test

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// Two routes for one truck: the one that it holds comes first.
func ExampleCompare() {
	class := vehicle.Class{ID: "ours", Truck: vehicle.Truck{RollingResistance: 0.0053}}
	hill := func(id string, dropM float64, holds bool) []catalog.Entry {
		return []catalog.Entry{{Descent: routes.Descent{ID: id, LengthM: 5000, DropM: dropM},
			Holds: []catalog.Hold{{Class: "ours", MassKg: 36000, Holds: holds, SpeedMPS: 10, HeaviestMassKg: 30000}}}}
	}
	for _, v := range ranking.Compare(&class, []ranking.Candidate{
		{Route: "over the pass", LengthM: 30000, Reliable: true, Entries: hill("pass", 400, false)},
		{Route: "round the lake", LengthM: 48000, Reliable: true, Entries: hill("lake", 150, true)},
	}, ranking.CompareOptions{}) {
		fmt.Printf("%d. %s: %s\n", v.Place, v.Route, v.WhyIn(catalog.Metric))
	}
	// Output:
	// 1. round the lake: held throughout; 150 m of drop in its descents
	// 2. over the pass: not held: 1 of its 1 descents
}
