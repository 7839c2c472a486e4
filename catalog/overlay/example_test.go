package overlay_test

import (
	"bytes"
	"encoding/json"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// What a class must keep off, as one line for each direction that is closed.
func ExampleAvoidOverlay() {
	es := []catalog.Entry{specimen.Entry(routes.Forward)}
	var b bytes.Buffer
	if err := overlay.AvoidOverlay(&b, es, "bc-btrain", overlay.AvoidOptions{Shape: overlay.AvoidLines}); err != nil {
		fmt.Println(err)
		return
	}
	var c struct {
		Features []struct {
			ID         string
			Properties struct {
				Answer string
				DropM  float64 `json:"drop_m"`
			}
		}
	}
	if err := json.Unmarshal(b.Bytes(), &c); err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range c.Features {
		fmt.Printf("%s: %s, drops %.0f m\n", f.ID, f.Properties.Answer, f.Properties.DropM)
	}
	// Output: harrow-1f/bc-btrain/line: NOT HELD, drops 403 m
}
