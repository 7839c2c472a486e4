package specimen_test

import (
	"fmt"

	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// The road and its descent, invented: what a package that draws or lists them can be tried
// on.
func Example() {
	road, e := specimen.Profile(), specimen.Entry(routes.Forward)
	fmt.Printf("%d stations every %g m\n", road.Count(), road.StepM)
	fmt.Printf("%s: %.0f m down, %.1f %% in the mean, %d classes\n", e.Descent.Name, e.Descent.DropM, e.Descent.MeanDowngradePct, len(e.Holds))
	// Output:
	// 1001 stations every 10 m
	// Harrow Hill Road: 403 m down, 6.2 % in the mean, 2 classes
}
