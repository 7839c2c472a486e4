package catalog_test

import (
	"errors"
	"fmt"

	"gradeline/catalog"
)

// Quantities are read with their unit; a bare number is a fault that says what to write.
func ExampleMassKg() {
	kg, err := catalog.MassKg("102,500 lb")
	fmt.Printf("%.1f kg, %v\n", kg, err)

	_, err = catalog.MassKg("46500")
	fmt.Println(errors.Is(err, catalog.ErrQuantity))
	// Output:
	// 46493.2 kg, <nil>
	// true
}

// A speed is written rounded down: advice never reads faster than it is.
func ExampleUnits_Speed() {
	fmt.Println(catalog.US.Speed(24.9 * catalog.MilePerHourMPS))
	fmt.Println(catalog.Metric.Speed(11.2))
	fmt.Println(catalog.US.MassDown(46493))
	// Output:
	// 24 mph
	// 40 km/h
	// 102,500 lb
}
