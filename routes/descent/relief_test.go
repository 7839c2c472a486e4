package descent

import (
	"testing"

	"gradeline/routes"
)

// A grade line that states no bound, such as the truth of a drawn road, is exact: 12 m part it.
func TestALineWithoutABoundIsTakenAsItIs(t *testing.T) {
	for reliefM, descents := range map[float64]int{11.9: 1, 12.1: 2} {
		p := road(leg{1000, 0}, leg{2000, -6}, leg{280, 100*reliefM/280 - 3}, leg{2000, -6}, leg{1000, 0})
		p.Bound = routes.ErrorModel{}
		if ds := Find(p, routes.Forward, Options{}); len(ds) != descents {
			t.Errorf("%.2f m of relief: %d descents, want %d", reliefM, len(ds), descents)
		}
	}
}

// A bench parts two descents by 12 m of relief on an exact grade line, and by less where the line's
// bound says that it eases benches: a third less for each point of half-width over 500 m, 0.6 of it
// at the least. The reliefs on both sides of each limit are closer to it than 5 % of the constants
// would move it.
func TestAnEasedBenchPartsByLessRelief(t *testing.T) {
	for _, c := range []struct {
		boundPct, reliefM float64
		descents          int
	}{
		{0, 11.9, 1}, {0, 12.1, 2},
		{1, 7.98, 1}, {1, 8.14, 2}, // 12 · (1 - 0.33) = 8.04
		{2, 7.1, 1}, {2, 7.3, 2}, // 12 · 0.6 = 7.2
	} {
		const lengthM = 280.0
		gradePct := 3 - 100*c.reliefM/lengthM
		p := road(leg{1000, 0}, leg{2000, -6}, leg{lengthM, -gradePct}, leg{2000, -6}, leg{1000, 0})
		p.Bound.SpanM, p.Bound.SpanPct = []float64{500, 5000}, []float64{c.boundPct, c.boundPct}
		if ds := Find(p, routes.Forward, Options{}); len(ds) != c.descents {
			t.Errorf("half-width of %v points, %.2f m of relief: %d descents, want %d", c.boundPct, c.reliefM, len(ds), c.descents)
		}
	}
}
