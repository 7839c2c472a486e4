package grade

import (
	"fmt"
	"math"
	"testing"

	"gradeline/routes"
)

// Case 1. Limits are about four times the cell size's usual RMSE over a gap.
func TestUnflaggedThreeKilometreTunnelIsBridged(t *testing.T) {
	for _, c := range []struct{ cell, limitPct float64 }{{1, 0.5}, {10, 1}, {30, 2}, {90, 4}} {
		dx := stepFromCell(c.cell)
		truth := heights(dx, leg{3000, 3, 200}, leg{4000, -2, 200}, leg{4000, -4, 0})
		z := spoil(truth, dx, c.cell, 1, 1)
		ridge(z, dx, 3400, 6400, 300)
		q := mustRecover(t, lineGround(z, dx, c.cell), Options{})
		atMost(t, fmt.Sprintf("%g m: inside the tunnel, points", c.cell), rmsePct(q, truth, 3300, 6500), c.limitPct)
		tunnel := false
		for _, s := range q.Structures {
			tunnel = tunnel || s.Kind == routes.Tunnel && s.FromM < 4000 && s.ToM > 5800
		}
		if !tunnel {
			t.Errorf("%g m: no tunnel reported: %v", c.cell, q.Structures)
		}
	}
}

// Case 2: only one anchor. Beyond 300 m from the ground there is no height.
func TestTunnelAtTheLineEndIsNotExtrapolatedFar(t *testing.T) {
	truth := heights(5, rolling...)
	for _, flagged := range []bool{true, false} {
		z := spoil(truth, 5, 10, 1, 2)
		ridge(z, 5, 8800, 12000, 250)
		g := lineGround(z, 5, 10)
		if flagged {
			g.Structures = []routes.Structure{{Kind: routes.Tunnel, FromM: 8800, ToM: g.LengthM, Flagged: true}}
		}
		q := mustRecover(t, g, Options{})
		atMost(t, fmt.Sprintf("flagged %v: before the tunnel, points", flagged), rmsePct(q, truth, 0, 8700), 0.6)
		if flagged {
			if n := q.Count(); !math.IsNaN(q.ElevationM[n-1]) || math.IsNaN(q.ElevationM[int(8900/5)]) {
				t.Error("the height must end 300 m into the tunnel, not before and not at the line's end")
			}
		}
	}
}

// Case 3.
func TestBridgeFollowedByTunnel(t *testing.T) {
	truth := heights(5, rolling...)
	z := spoil(truth, 5, 10, 1, 3)
	ridge(z, 5, 4000, 4250, -45)
	ridge(z, 5, 4250, 4900, 110)
	q := mustRecover(t, lineGround(z, 5, 10), Options{})
	atMost(t, "over both, points", rmsePct(q, truth, 3900, 5000), 1.2)
}

// Case 4: the grade changes inside.
func TestBridgeAtASagKeepsTheSag(t *testing.T) {
	for _, cell := range []float64{1, 10} {
		truth := heights(5, leg{2500, -5, 250}, leg{2500, 4, 0})
		z := spoil(truth, 5, cell, 1, 4)
		ridge(z, 5, 2420, 2580, -30)
		q := mustRecover(t, lineGround(z, 5, cell), Options{})
		atMost(t, fmt.Sprintf("%g m: over the bridge, points", cell), rmsePct(q, truth, 2300, 2700), 1.2)
	}
}

// Case 5.
func TestShiftedFlagDoesNoHarm(t *testing.T) {
	truth := heights(5, rolling...)
	z := spoil(truth, 5, 10, 1, 5)
	ridge(z, 5, 3000, 3300, -50)
	g := lineGround(z, 5, 10)
	g.Structures = []routes.Structure{{Kind: routes.Bridge, FromM: 3030, ToM: 3330, Flagged: true}}
	q := mustRecover(t, g, Options{})
	atMost(t, "shifted flag, points", rmsePct(q, truth, 2900, 3400), 0.9)
	g.Structures[0].Kind = routes.Tunnel // the wrong layer
	q = mustRecover(t, g, Options{})
	atMost(t, "wrong kind, points", rmsePct(q, truth, 2900, 3400), 0.9)
}

// Case 6.
func TestShortCulvertAndOverpassLeaveNoTrace(t *testing.T) {
	truth := heights(5, rolling...)
	z := spoil(truth, 5, 1, 1, 6)
	ridge(z, 5, 2000, 2015, -6)
	ridge(z, 5, 6000, 6025, 7)
	q := mustRecover(t, lineGround(z, 5, 1), Options{})
	atMost(t, "culvert, points", rmsePct(q, truth, 1850, 2150), 0.3)
	atMost(t, "overpass, points", rmsePct(q, truth, 5850, 6150), 0.3)
}
