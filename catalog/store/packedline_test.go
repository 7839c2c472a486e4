package store

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// crookedLine is a mountain road with a vertex each 10 m.
func crookedLine(r *rand.Rand, n int) []catalog.Vertex {
	line := make([]catalog.Vertex, n)
	lon, lat, height, turn := 11.0, 46.0, 2000.0, 0.0
	for i := range line {
		line[i] = catalog.Vertex{LonDeg: math.Round(lon*1e7) / 1e7, LatDeg: math.Round(lat*1e7) / 1e7, ElevationM: math.Round(height*1e4) / 1e4, StationM: 10 * float64(i)}
		turn += 0.15 * math.Sin(float64(i)/17) * r.Float64()
		lon, lat = lon+1.3e-4*math.Cos(turn), lat+9e-5*math.Sin(turn)
		height -= 0.6 + 0.4*math.Sin(float64(i)/23)
	}
	return line
}

// A line comes back to the bit, and takes few bytes.
func TestLinesComeBack(t *testing.T) {
	r := rand.New(rand.NewPCG(20261129, 3))
	line := crookedLine(r, 475)
	b := packLine(line)
	if got, err := unpackLine(b); err != nil || !reflect.DeepEqual(got, line) {
		t.Errorf("another line, %v", err)
	}
	if len(b) > 4*len(line) {
		t.Errorf("%d bytes for %d vertices", len(b), len(line))
	}
	odd := []catalog.Vertex{{LonDeg: 1.0 / 3, LatDeg: -2.0 / 7, ElevationM: math.Copysign(0, -1), StationM: 1e9 / 7}, {LonDeg: 180, ElevationM: 5e-324}}
	if got, err := unpackLine(packLine(odd)); err != nil || !reflect.DeepEqual(got, odd) {
		t.Errorf("%v for %v, %v", got, odd, err)
	}
}

// What a GIS draws lies within half a metre in plan and a quarter in height of every
// vertex, with the same ends and the same extent.
func TestADrawnLineIsNear(t *testing.T) {
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 4))
		line := crookedLine(r, 300+r.IntN(300))
		few := drawn(line)
		if len(few) > len(line)*2/3 || few[0] != line[0] || few[len(few)-1] != line[len(line)-1] || gpkg.EnvelopeOf(few) != gpkg.EnvelopeOf(line) {
			t.Fatalf("seed %d: %d of %d vertices, extent %v of %v", seed, len(few), len(line), gpkg.EnvelopeOf(few), gpkg.EnvelopeOf(line))
		}
		for _, v := range line {
			planM, heightM := offTheLine(few, v)
			if planM > drawnPlanM || heightM > drawnHeightM {
				t.Fatalf("seed %d: station %v is %v m beside the drawn line, %v m above", seed, v.StationM, planM, heightM)
			}
		}
	}
	over := []catalog.Vertex{{LonDeg: 179.9999}, {LonDeg: 179.99995}, {LonDeg: -179.99995}, {LonDeg: -179.9999}}
	if got := drawn(over); len(got) != 4 {
		t.Errorf("over the antimeridian %d of 4 vertices", len(got))
	}
	holed := crookedLine(rand.New(rand.NewPCG(1, 4)), 50)
	holed[20].ElevationM = nan
	if got := drawn(holed); !math.IsNaN(got[indexOfStation(got, 200)].ElevationM) {
		t.Error("a height that is no number was left out")
	}
}

func indexOfStation(line []catalog.Vertex, stationM float64) int {
	for i, v := range line {
		if v.StationM == stationM {
			return i
		}
	}
	return 0
}

// offTheLine is how far a vertex lies from a line: in plan from its nearest point, by a
// sphere of 6,371 km, and in height at the same station.
func offTheLine(line []catalog.Vertex, v catalog.Vertex) (planM, heightM float64) {
	const mPerDeg = 6371000 * math.Pi / 180
	planM = math.Inf(1)
	narrow := math.Cos(v.LatDeg * math.Pi / 180)
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		ax, ay := (a.LonDeg-v.LonDeg)*narrow*mPerDeg, (a.LatDeg-v.LatDeg)*mPerDeg
		dx, dy := (b.LonDeg-a.LonDeg)*narrow*mPerDeg, (b.LatDeg-a.LatDeg)*mPerDeg
		u := min(1, max(0, -(ax*dx+ay*dy)/(dx*dx+dy*dy)))
		planM = min(planM, math.Hypot(ax+u*dx, ay+u*dy))
		if a.StationM <= v.StationM && v.StationM <= b.StationM {
			w := (v.StationM - a.StationM) / (b.StationM - a.StationM)
			heightM = math.Abs(a.ElevationM + w*(b.ElevationM-a.ElevationM) - v.ElevationM)
		}
	}
	return planM, heightM
}

// Cut or changed bytes of a line never panic.
func FuzzLine(f *testing.F) {
	f.Add(packLine(crookedLine(rand.New(rand.NewPCG(1, 1)), 30)))
	f.Add([]byte{lineMark, lineLayout, 255, 255, 3})
	f.Fuzz(func(t *testing.T, b []byte) {
		if line, err := unpackLine(b); err == nil && len(line) > 64*len(b) {
			t.Errorf("%d vertices from %d bytes", len(line), len(b))
		}
	})
}
