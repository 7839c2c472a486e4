package compact_test

import (
	"fmt"
	"reflect"

	"gradeline/catalog/compact"
)

// Two answers go into a few bytes; their sentences are kept as one form.
func Example() {
	type answer struct {
		SpeedMPS float64 `json:"speed_mps"`
		Words    string  `json:"words"`
	}
	layout, err := compact.NewLayout(reflect.TypeFor[answer](), []string{"speed_mps", "words"})
	if err != nil {
		fmt.Println(err)
		return
	}
	b, texts, err := compact.NewWriter(layout).Append(nil, reflect.ValueOf([]answer{{5.5, "gear 5, 20 km/h"}, {6.25, "gear 6, 22 km/h"}}))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(layout.Text(), texts, len(b), "bytes")
	schema, err := compact.ParseSchema(layout.Text())
	if err != nil {
		fmt.Println(err)
		return
	}
	back, err := schema.Read(b, layout, texts)
	fmt.Println(back, err)
	// Output:
	// {speed_mps:f,words:s} [gear #, # km/h] 14 bytes
	// [{5.5 gear 5, 20 km/h} {6.25 gear 6, 22 km/h}] <nil>
}
