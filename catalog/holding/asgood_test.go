package holding

import (
	"math"
	"testing"

	"gradeline/routes"
)

// A bound that drives have narrowed is that of finer terrain, by hand: .6 points over 200 m lie between
// those of 10 and 30 m cells, at 10·3^(ln(.6/.55)/ln(.85/.55)) = 12.46 m. Without drives a bound is
// never narrower than its terrain's, and the profile's own cell size stands.
func TestDrivesMakeALineAsGoodAsFinerTerrain(t *testing.T) {
	for _, c := range []struct{ cellM, errPct, want float64 }{
		{90, 0.6, 12.4557}, {30, 0.6, 12.4557}, {90, 1.0, 42.4433}, {90, 0.25, 3.3409}, {90, 0.105, 1},
		{10, 0.55, 10}, {30, 0.85, 30}, {30, 1.2, 30}, {90, 1.422, 90}, {45, 0.9845, 41.0511}, {0, 0.6, 0},
	} {
		p := routes.Profile{CellM: c.cellM, Bound: routes.ErrorModel{SpanM: []float64{200, 1000}, SpanPct: []float64{c.errPct, c.errPct / 4}}}
		if got := asGoodAsCellM(&p, p.Bound); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%g m cells, %g points: as good as %.4f m, by hand %.4f", c.cellM, c.errPct, got, c.want)
		}
	}
}

// Where the drives end the terrain's own bound and cell size stand, and the worst of a hill is its cell size.
func TestWhereDrivesEndTheTerrainStands(t *testing.T) {
	p := windowed()
	terrain := p.Bound
	terrain.SpanPct = []float64{1.8, 0.9, 0.6, 0.3}
	terrain.ElevationM = 6
	p.CellM, p.Coarser = 100, []routes.Part{{FromM: 3000, ToM: 8000, Bound: terrain}}
	if h := hillBetween(p, 1000, 2900); math.Abs(h.CellM-12.4557) > 1e-3 {
		t.Errorf("with drives all along: as good as %.2f m", h.CellM)
	}
	h := hillBetween(p, 1000, 7000)
	if h.CellM != 100 {
		t.Errorf("with drives on a part: as good as %.2f m", h.CellM)
	}
	steepest := 0.0
	for _, e := range h.ErrPct {
		steepest = math.Max(steepest, e)
	}
	if want := 1.164*1.8 + 1.2*2.889; math.Abs(steepest-want) > 0.02*want {
		t.Errorf("a steep part without drives: ±%.3f points, by hand ±%.3f", steepest, want)
	}
}

// A pitch of 20 m may be steeper by twice the bound over 200 m, with drives in the grade line by four times.
func TestAPitchMayBeSteeperWithDrives(t *testing.T) {
	for _, c := range []struct{ cellM, times float64 }{{10, 2}, {90, 4}, {0, 4}} {
		p := windowed()
		p.CellM = c.cellM
		h := hillBetween(p, 1000, 3000)
		s, err := newSlope(&h, &Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.sudden[0].errPct; math.Abs(got-c.times*0.6) > 1e-9 {
			t.Errorf("%g m cells: ±%.3f points on a pitch, by hand ±%.3f", c.cellM, got, c.times*0.6)
		}
	}
}
