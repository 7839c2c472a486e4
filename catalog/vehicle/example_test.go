package vehicle_test

import (
	"fmt"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// A class file is read, and its truck asked what its engine brake takes from the wheels.
func Example() {
	classes, defaults, err := vehicle.ParseClasses("trucks.toml", strings.NewReader(vehicle.Template(catalog.US)))
	if err != nil {
		fmt.Println(err)
		return
	}
	t := &classes[0].Truck
	v := t.SpeedFromRPM(6, 2000)
	fmt.Printf("%s: gear %s at 2,000 rpm runs %.1f km/h\n", classes[0].ID, t.GearName(6), v*3600/1000)
	fmt.Printf("stage %d takes %.0f kW; figures left out: %d\n", t.StageCount(), t.TopWheelPower(6, v, vehicle.Air{}).AtW(1)/1000, len(defaults))
	// Output:
	// our-5axle: gear 6 at 2,000 rpm runs 40.7 km/h
	// stage 3 takes 330 kW; figures left out: 0
}
