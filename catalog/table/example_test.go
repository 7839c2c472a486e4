package table_test

import (
	"fmt"
	"os"

	"gradeline/catalog/table"
)

// A table names its units in the header; a name that a spreadsheet would run as a
// formula gets an apostrophe.
func ExampleWriteText() {
	t := table.Table{Header: []string{"Road", "Length (mi)"}, Rows: [][]any{{"Harrow Hill Road", table.Num{V: 4.04, Decimals: 1}}, {"Cinder Gap", nil}}}
	if err := table.WriteText(os.Stdout, t); err != nil {
		fmt.Println(err)
	}
	// Output:
	// Road              Length (mi)
	// ----------------  -----------
	// Harrow Hill Road          4.0
	// Cinder Gap            unknown
}
