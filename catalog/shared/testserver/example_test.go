package testserver_test

import (
	"fmt"

	"gradeline/catalog/shared/testserver"
)

// In a test, New(t).Address() is the address of an empty database with PostGIS.
func ExampleDatabase() {
	fmt.Println(testserver.Owner)
	// Output: office
}
