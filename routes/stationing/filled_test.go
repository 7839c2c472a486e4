package stationing

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// texturedHill is a side slope of 30 %, falling at 6 % along the road, with relief of 1.2 m every 30 m
// that is scaled by a share of it.
func texturedHill(e, n, share float64) float64 {
	return 1500 - .06*e + .3*n + share*1.2*math.Sin(2*math.Pi*e/30+1)*math.Cos(2*math.Pi*n/47+.4)
}

func groundAcross(t *testing.T, lengthM float64, cellM float32, z func(e, n float64) float64) (*across, *routes.Ground) {
	t.Helper()
	origin := orb.Point{10, 47}
	s := &across{origin: origin, z: z, cellM: cellM}
	var line orb.LineString
	for x := 0.0; x <= lengthM; x += 60 {
		line = append(line, Direct(origin, 90, x))
	}
	g, err := Sample(context.Background(), s, routeOf(t, line), Options{HalfWidthM: -1})
	if err != nil {
		t.Fatal(err)
	}
	return s, g
}

// A stretch without texture is in doubt where the ground beside it has none either. Water, valley
// floors, wide roadbeds and terrain that is smooth for a long way are not.
func TestFilledStretches(t *testing.T) {
	// Ground in a hole from 4 km on, of a length and a half width.
	hole := func(lengthM, halfM float64, in func(e, n float64) float64) func(e, n float64) float64 {
		return func(e, n float64) float64 {
			if e > 4000 && e < 4000+lengthM && math.Abs(n) < halfM {
				return in(e, n)
			}
			return texturedHill(e, n, 1)
		}
	}
	plane := func(e, n float64) float64 { return texturedHill(e, n, 0) }
	for _, c := range []struct {
		name    string
		z       func(e, n float64) float64
		lengthM float64
		cellM   float32
		want    bool
	}{
		{"none", func(e, n float64) float64 { return texturedHill(e, n, 1) }, 12000, 10, false},
		{"a plane of 1 km", hole(1000, 300, plane), 12000, 10, true},
		{"a bowl of 1 km", hole(1000, 300, func(e, n float64) float64 { return plane(e, n) + math.Pow((e-4500)/100, 2) - 25 }), 12000, 10, true},
		{"a plane of 260 m", hole(260, 300, plane), 12000, 10, true},
		{"a plane of 140 m", hole(140, 300, plane), 12000, 10, false},
		{"still water", hole(1000, 300, func(e, n float64) float64 { return 1230 }), 12000, 10, false},
		{"a level valley floor", hole(1000, 300, func(e, n float64) float64 { return 1230 + .001*e + .02*n + .02*math.Sin(e/5)*math.Cos(n/7) }), 12000, 10, false},
		{"a wide roadbed", hole(1000, 30, plane), 12000, 10, false},
		{"4.86 km", hole(4860, 300, plane), 25000, 10, true},
		{"5.2 km", hole(5200, 300, plane), 25000, 10, false},
		{"smooth everywhere", plane, 12000, 10, false},
	} {
		s, g := groundAcross(t, c.lengthM, c.cellM, c.z)
		list, err := filledStretches(context.Background(), s, g)
		if err != nil {
			t.Fatal(err)
		}
		if len(list) > 0 != c.want {
			t.Errorf("%s: %v", c.name, list)
		}
		for _, d := range list {
			var fromM, toM float64
			if _, err := fmt.Sscanf(d.Why, "from %f to %f m", &fromM, &toM); err != nil || !strings.Contains(d.Why, "filled by interpolation") {
				t.Errorf("%s: %q", c.name, d.Why)
			}
			if math.Abs(fromM-d.FromM-500) > 1 || math.Abs(d.ToM-toM-500) > 1 || fromM < 3880 || fromM > 4180 {
				t.Errorf("%s: %v", c.name, d)
			}
		}
		g.SurfaceModel = true
		if list, _ := filledStretches(context.Background(), s, g); list != nil {
			t.Errorf("%s: in a surface model %v", c.name, list)
		}
	}
	// Cells finer than 5 m are not judged.
	for cellM, want := range map[float32]bool{4.8: false, 5.2: true} {
		s, g := groundAcross(t, 12000, 10, hole(1000, 300, plane))
		for i := range g.CellM {
			g.CellM[i] = cellM
		}
		if list, _ := filledStretches(context.Background(), s, g); len(list) > 0 != want {
			t.Errorf("cells of %g m: %v", cellM, list)
		}
	}
}

// The ground beside a smooth road has half of the texture before and after it at most.
func TestSideOfAFilledStretch(t *testing.T) {
	for share, want := range map[float64]bool{.48: true, .505: false} {
		s, g := groundAcross(t, 12000, 10, func(e, n float64) float64 {
			switch {
			case e < 4000 || e > 5000:
				return texturedHill(e, n, 1)
			case math.Abs(n) < 30:
				return texturedHill(e, n, 0) + .3*n
			}
			return texturedHill(e, n, share) + .3*n // steeper, so that the share of the slope is not the limit
		})
		if list, _ := filledStretches(context.Background(), s, g); len(list) > 0 != want {
			t.Errorf("texture of %g beside the road: %v", share, list)
		}
	}
}

// Known miss: a fill as rough as measured ground, as GDAL's without smoothing.
func TestKnownMissARoughFill(t *testing.T) {
	s, g := groundAcross(t, 12000, 10, func(e, n float64) float64 {
		if e > 4000 && e < 5500 && math.Abs(n) < 400 {
			return texturedHill(e, n, 0) + .6*math.Floor(3*math.Sin(2*math.Pi*e/31+n/9))
		}
		return texturedHill(e, n, 1)
	})
	if list, _ := filledStretches(context.Background(), s, g); len(list) > 0 {
		t.Errorf("found now: %v", list)
	}
}

// A window is smooth below .4 of what a quarter of the others within 15 km stay below.
func TestASmoothWindow(t *testing.T) {
	const per, stepM = 12, 5.0 // 60 m
	made := func(count int) (*filledSearch, []texture) {
		f := &filledSearch{g: &routes.Ground{StepM: stepM}, per: per, group: make([]int, count+2)}
		windows := make([]texture, count)
		for i := range windows {
			windows[i] = texture{1, 10}
		}
		return f, windows
	}
	for _, c := range []struct {
		name  string
		count int
		set   func(f *filledSearch, w []texture) int // returns the window to judge
		want  bool
	}{
		{"change .39", 100, func(_ *filledSearch, w []texture) int { w[50] = texture{.39, 1}; return 50 }, true},
		{"change .41", 100, func(_ *filledSearch, w []texture) int { w[50] = texture{.41, 1}; return 50 }, false},
		{"share of the slope 3.9", 100, func(_ *filledSearch, w []texture) int { w[50] = texture{.1, 3.9}; return 50 }, true},
		{"share of the slope 4.1", 100, func(_ *filledSearch, w []texture) int { w[50] = texture{.1, 4.1}; return 50 }, false},
		{"usual change .104 m", 100, func(_ *filledSearch, w []texture) int {
			for i := range w {
				w[i].changeM = .104
			}
			w[50] = texture{.01, 1}
			return 50
		}, true},
		{"usual change .096 m", 100, func(_ *filledSearch, w []texture) int {
			for i := range w {
				w[i].changeM = .096
			}
			w[50] = texture{.01, 1}
			return 50
		}, false},
		{"24 % of the others are smooth", 105, func(_ *filledSearch, w []texture) int {
			for i := range 24 {
				w[i] = texture{.2, 2}
			}
			w[60] = texture{.1, 1}
			return 60
		}, true},
		{"26 % of the others are smooth", 105, func(_ *filledSearch, w []texture) int {
			for i := range 26 {
				w[i] = texture{.2, 2}
			}
			w[60] = texture{.1, 1}
			return 60
		}, false},
		{"8 others", 11, func(_ *filledSearch, w []texture) int { w[0] = texture{.1, 1}; return 0 }, true},
		{"7 others", 10, func(_ *filledSearch, w []texture) int { w[0] = texture{.1, 1}; return 0 }, false},
		{"of another mosaic", 100, func(f *filledSearch, w []texture) int {
			f.group[50], w[50] = 1, texture{.1, 1}
			return 50
		}, false},
		{"smooth from 11.6 km on", 300, func(_ *filledSearch, w []texture) int { return smoothFrom(w, 193) }, true},
		{"smooth from 11 km on", 300, func(_ *filledSearch, w []texture) int { return smoothFrom(w, 184) }, false},
	} {
		f, windows := made(c.count)
		w := c.set(f, windows)
		got := false
		for _, run := range f.smoothRuns(windows) {
			got = got || run.first <= w*per && run.last >= (w+filledBlocks)*per
		}
		if got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// smoothFrom makes the windows smooth from a distance on, and returns the first one, smoother.
func smoothFrom(w []texture, windows int) int {
	for i := windows; i < len(w); i++ {
		w[i] = texture{.2, 2}
	}
	w[0] = texture{.1, 1}
	return 0
}
