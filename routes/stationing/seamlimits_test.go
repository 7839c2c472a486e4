package stationing

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// seamDoubts are the doubts of a straight level road eastwards over a surface, sampled each metre. Its
// ground is in metres east of a place 1,500 m from the road's begin, and north of the road.
func seamDoubts(t *testing.T, cellM float32, beginM, endM float64, z func(e, n float64) float64) []routes.Doubt {
	t.Helper()
	origin := orb.Point{10, 0}
	s := &across{origin: origin, cellM: cellM, z: z}
	line := orb.LineString{Direct(origin, 90, beginM), Direct(origin, 90, endM)}
	g, err := Sample(context.Background(), s, routeOf(t, line), Options{HalfWidthM: -1, StepM: 1})
	if err != nil {
		t.Fatal(err)
	}
	return g.Doubtful
}

// Every limit of a step of the terrain along a straight line, from its definition, with a case within a
// few per cent on either side.
func TestLimitsOfSeams(t *testing.T) {
	// A step of a height at 1,000.5 m, over a ramp of a length about 1,001 m, as much of it as along says.
	step := func(byM, rampM float64, along func(n float64) float64) func(e, n float64) float64 {
		return func(e, n float64) float64 {
			share := 0.0
			if rampM > 0 {
				share = max(0, min(1, (e-1001)/rampM+.5))
			} else if e > 1000.5 {
				share = 1
			}
			return 1000 + byM*share*along(n)
		}
	}
	all := func(float64) float64 { return 1 }
	sharp := func(byM float64) func(e, n float64) float64 { return step(byM, 0, all) }
	onRoad := func(roadM, byM float64) func(e, n float64) float64 { // with another step within 2 m of the road
		return step(1, 0, func(n float64) float64 {
			if math.Abs(n) < 2 {
				return roadM
			}
			return byM
		})
	}
	fading := func(perM, medianM float64) func(e, n float64) float64 { // by a share for each metre aside; on the road as at a distance
		return step(1, 0, func(n float64) float64 {
			if math.Abs(n) < 2 {
				return 40 * (1 - medianM*perM)
			}
			return 40 * (1 - perM*math.Abs(n))
		})
	}
	endingAt := func(northM float64) func(e, n float64) float64 {
		return step(40, 0, func(n float64) float64 {
			if n > northM+1 {
				return 0
			}
			return 1
		})
	}
	rough := func(byM float64) func(e, n float64) float64 { // up and down from metre to metre, on the road
		return func(e, n float64) float64 {
			z := sharp(40)(e, n)
			if math.Abs(n) < 2 {
				z += byM * math.Cos(math.Pi*math.Round(e))
			}
			return z
		}
	}
	fanned := func(by float64) func(e, n float64) float64 { // beyond the step, differences over 20 m from −by to by of it
		return func(e, n float64) float64 {
			z := sharp(40)(e, n)
			if e > 1000.5 {
				z += 40 * by * n / 150 * (e - 1000.5) / 20
			}
			return z
		}
	}
	for _, c := range []struct {
		name         string
		cellM        float32
		beginM, endM float64
		z            func(e, n float64) float64
		want         bool
	}{
		{"9.1 m, of 6 and .3 of 10", 10, 0, 2000, sharp(9.1), true},
		{"8.9 m", 10, 0, 2000, sharp(8.9), false},
		{"15.2 m on 30 m cells", 30, 0, 2000, sharp(15.2), true},
		{"14.8 m", 30, 0, 2000, sharp(14.8), false},
		{"7.6 m over 20 m, 5 m cells", 5, 0, 2000, step(7.6, 20, all), true},
		{"7.6 m over 20.6 m", 5, 0, 2000, step(7.6, 20.6, all), false},
		{"15.2 m over two cells of 30 m", 30, 0, 2000, step(15.2, 60, all), true},
		{"15.2 m over 61.6 m", 30, 0, 2000, step(15.2, 61.6, all), false},
		{"100 m before it", 10, 878, 2000, sharp(30), true},
		{"98 m before it", 10, 883, 2000, sharp(30), false},
		{"100 m before it, cells of 5 m", 5, 878, 2000, sharp(30), true},
		{"98 m before it, cells of 5 m", 5, 883, 2000, sharp(30), false},
		{"ten cells of 30 m before it", 30, 635, 2000, sharp(30), true},
		{"9.8 cells", 30, 646, 2000, sharp(30), false},
		{"scatter of .245 of it", 10, 0, 2000, rough(9.8), true},
		{"scatter of .255", 10, 0, 2000, rough(10.2), false},
		{"26.4 m where the road steps by 40, .34 of that less", 10, 0, 2000, onRoad(40, 26.4), true},
		{".36 less", 10, 0, 2000, onRoad(40, 25.6), false},
		// With c a metre the places at 0 to 9/10 of 150 m count, 19 of 21, where 1 − 135·c is .3 of the median, 1 − 75·c.
		{"nine places of ten with .3 of the median on both sides", 10, 0, 2000, fading(.00619, 75), true},
		{"fewer", 10, 0, 2000, fading(.00625, 75), false},
		{"the same up to ten cells of 30 m", 30, 0, 2000, fading(.003095, 150), true},
		{"fewer of 30 m", 30, 0, 2000, fading(.003125, 150), false},
		{"18 places of 21", 10, 0, 2000, endingAt(110), true},
		{"17 places", 10, 0, 2000, endingAt(90), false},
		{"twice what usually differs", 10, 0, 2000, fanned(.70), true},
		{"1.95 times", 10, 0, 2000, fanned(.73), false},
	} {
		got := seamDoubts(t, c.cellM, c.beginM, c.endM, c.z)
		if len(got) > 0 != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
		for _, d := range got {
			lo, hi := max(0, 500.5-c.beginM), min(c.endM, 1500.5)-c.beginM
			if leapM := max(20, 2*float64(c.cellM)); math.Abs(d.FromM-lo) > leapM/2+1 || math.Abs(d.ToM-hi) > leapM/2+1 {
				t.Errorf("%s: %v, not %.0f to %.0f m", c.name, d, lo, hi)
			}
		}
	}
}

// A seam is found whichever way it runs: between two of the directions that are tried, and up to 60° off
// square to the road.
func TestSeamsOfEveryDirection(t *testing.T) {
	for deg := 0.0; deg <= 60; deg += 0.5 {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		z := func(e, n float64) float64 {
			if (e-1000.5)*cos-n*sin > 0 {
				return 1030
			}
			return 1000
		}
		if len(seamDoubts(t, 10, 500, 1500, z)) == 0 {
			t.Errorf("a step of 30 m, %g° off square to the road, is not seen", deg)
		}
	}
}
