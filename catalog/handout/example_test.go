package handout_test

import (
	"fmt"

	"gradeline/catalog/handout"
)

// A document of 120 lines takes three sheets of A4.
func ExamplePageCount() {
	d := handout.Document{Title: "Brakes"}
	for range 120 {
		d.Blocks = append(d.Blocks, handout.Paragraph{Text: "A line of text."})
	}
	n, err := handout.PageCount(d, "A4")
	fmt.Println(n, err)
	// Output: 3 <nil>
}
