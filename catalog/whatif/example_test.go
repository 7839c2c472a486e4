package whatif_test

import (
	"fmt"

	"gradeline/catalog/holding"
	"gradeline/catalog/whatif"
)

// A question as a person types it.
func Example() {
	classes, err := holding.DefaultClasses()
	if err != nil {
		fmt.Println(err)
		return
	}
	typed := whatif.Typed{Class: "us-5axle", Grade: "8%", Length: "6mi", Retarder: "50%"}
	q, err := typed.Question()
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := whatif.Ask(q, classes)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Hold.Holds, a.Shown.Code == "not")
	// Output: true false
}
