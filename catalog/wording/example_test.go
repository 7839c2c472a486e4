package wording_test

import (
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// What each class can do on a descent, in a few words.
func ExampleHoldWords() {
	e := specimen.Entry(routes.Forward)
	for _, class := range []string{"us-5axle", "bc-btrain", "none-such"} {
		fmt.Println(class, "-", wording.HoldWords(&e, class, catalog.US))
	}
	// Output:
	// us-5axle - holds: gear 6, compression brake at stage 3 of 3, 27 mph
	// bc-btrain - NOT HELD
	// none-such - unknown: no hold was computed for this class
}
