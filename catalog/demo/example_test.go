package demo_test

import (
	"context"
	"errors"
	"fmt"
	"os"

	"gradeline/catalog"
	"gradeline/catalog/demo"
)

// The demo prints each command line and hands it to the program; here one that only looks
// at the first and refuses.
func ExamplePlay() {
	dir, err := os.MkdirTemp("", "")
	if err == nil {
		defer os.RemoveAll(dir)
		err = os.Chdir(dir)
	}
	if err != nil {
		fmt.Println(err)
		return
	}
	err = demo.Play(context.Background(), os.Stdout, demo.Options{Dir: "hills", Units: catalog.US, UnitsName: "us"}, func([]string) error {
		_, err := os.Stat("hills/terrain.tif")
		return errors.Join(err, errors.New("not today"))
	})
	fmt.Println(err)
	// Output:
	// INVENTED DEMONSTRATION: no such road exists. Do not drive by it.
	//
	// $ gradeline survey --terrain hills/terrain.tif --catalog hills/demo.gpkg --profile hills/profile.csv --force --invented --by demo hills/routes.geojson --units us
	// the demo's step "survey": not today
}
