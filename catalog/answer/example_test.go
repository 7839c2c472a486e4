package answer_test

import (
	"fmt"
	"os"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/table"
	"gradeline/routes"
)

// A list of descents as people read it, here of one invented descent in US units.
func ExampleListTable() {
	hill := catalog.Entry{
		Descent: routes.Descent{ID: "example-road-f-1.0", Name: "Example Road, eastbound", LengthM: 9656, DropM: 580, MeanDowngradePct: 6, MeanDowngradeErrPct: 0.2, Steepest500Pct: 7.1},
		Holds:   []catalog.Hold{{Class: "us-5axle", MassKg: 36287.4, Holds: true, Gear: 6, Stage: 3, SpeedMPS: 11.2}},
	}
	t := answer.ListTable([]catalog.Entry{hill}, catalog.US)
	t.Notes = nil // the cautions
	if err := table.WriteText(os.Stdout, t); err != nil {
		fmt.Println(err)
	}
	// Output:
	// 1 descent
	//
	// descent             name                     length  drop      mean         steepest 1,600 ft  heaviest truck       it holds
	// ------------------  -----------------------  ------  --------  -----------  -----------------  -------------------  -----------------------
	// example-road-f-1.0  Example Road, eastbound  6.0 mi  1,903 ft  6.0 ± 0.2 %  7.1 %              us-5axle, 80,000 lb  gear 6, stage 3, 25 mph
}

// The doctor's answer in both forms.
func ExampleWriteJSON() {
	a := &answer.Doctor{Schema: catalog.Schema}
	a.Add("catalogue", nil, "hills.gpkg: no fault found")
	if err := answer.WriteJSON(os.Stdout, a); err != nil {
		fmt.Println(err)
	}
	if err := a.WriteText(os.Stdout, catalog.US); err != nil {
		fmt.Println(err)
	}
	// Output:
	// {
	//   "schema": "gradeline/1",
	//   "checks": [
	//     {
	//       "what": "catalogue",
	//       "ok": true,
	//       "says": "hills.gpkg: no fault found"
	//     }
	//   ]
	// }
	// ok     catalogue                hills.gpkg: no fault found
}
