package plot_test

import (
	"bytes"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// A descent's profile is cut out of its route's and drawn as SVG.
func ExampleProfileSVG() {
	e := specimen.Entry(routes.Forward)
	view := plot.ViewFromProfile(specimen.Profile(), &e, &e.Holds[0], 500)
	var svg bytes.Buffer
	if err := plot.ProfileSVG(&svg, view, catalog.US); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(view.Title, bytes.Contains(svg.Bytes(), []byte("Downgrade, %")))
	// Output: Harrow Hill Road, heading east true
}
