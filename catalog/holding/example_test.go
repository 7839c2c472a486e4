package holding_test

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/holding"
)

// Advice for a plain grade: 6 % for 6 miles, the default five-axle class.
func ExampleAdvise() {
	classes, err := holding.DefaultClasses()
	if err != nil {
		fmt.Println(err)
		return
	}
	h, err := holding.Advise(holding.PlainHill(6, 6*catalog.MileM), classes[0], holding.Options{MassKg: classes[0].MassMaxKg})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("held: %v; gear %s, %s, %s to %s\n", h.Holds, h.GearLabel(), h.StageWords(), catalog.US.Speed(h.SpeedLowMPS), catalog.US.Speed(h.SpeedMPS))
	fmt.Println("not on", h.SurfacesOut)
	// Output:
	// held: true; gear 6, compression brake at stage 3 of 3, 20 mph to 25 mph
	// not on [packed snow ice]
}
