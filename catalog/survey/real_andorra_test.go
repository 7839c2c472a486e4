package survey

import (
	"context"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// alongRoad is ground whose height is that of the nearest place of a road.
type alongRoad struct {
	points  []orb.Point
	heightM []float64
	cells   map[[2]int][]int
}

func (g *alongRoad) cell(p orb.Point) [2]int {
	return [2]int{int(math.Floor(p[0] * 300)), int(math.Floor(p[1] * 300))}
}

func (g *alongRoad) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i, p := range points {
		at, best := orb.Point{p.LonDeg, p.LatDeg}, math.Inf(1)
		c := g.cell(at)
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				for _, k := range g.cells[[2]int{c[0] + dx, c[1] + dy}] {
					if d := math.Hypot((g.points[k][0]-at[0])*0.737, g.points[k][1]-at[1]); d < best {
						best, out[i] = d, terrain.Sample{ElevationM: g.heightM[k], CellM: 10}
					}
				}
			}
		}
		if math.IsInf(best, 1) {
			out[i] = terrain.Sample{ElevationM: math.NaN(), Source: -1, Miss: terrain.Outside}
		}
	}
	return nil
}

func (g *alongRoad) Sources() []terrain.Raster { return []terrain.Raster{{Name: "drawn", CellM: 10}} }
func (g *alongRoad) Warnings() []string        { return nil }

func (g *alongRoad) add(r *routes.Route, fromM, toM float64, height func(m float64) float64) {
	for m := fromM; m < toM; m += 5 {
		p := drawnPlace(r, m)
		g.cells[g.cell(p)] = append(g.cells[g.cell(p)], len(g.points))
		g.points, g.heightM = append(g.points, p), append(g.heightM, height(m))
	}
}

// nearestM is the station of the vertex of a road that is nearest to a place, and how far away it is.
func nearestM(r *routes.Route, p orb.Point) (stationM, awayM float64) {
	awayM = math.Inf(1)
	for i, q := range r.Line {
		if d := stationing.DistanceM(p, q); d < awayM {
			stationM, awayM = r.VertexM[i], d
		}
	}
	return stationM, awayM
}

// The pass of Andorra in the extract of paulmach/osm's test data (2016), on ground of the heights that
// are published for the places on its road (from memory). The extract has the pass road and the CG-2
// below it as two roads: nine tenths of the hill from the pass down to Encamp are one descent, which
// goes on from one into the other.
func TestThePassOfARealExtractIsOneDescent(t *testing.T) {
	if testing.Short() {
		t.Skip("reads an extract of 3 MB")
	}
	ctx, class := context.Background(), testClass(t)
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/paulmach/osm").Output()
	if err != nil {
		t.Fatal(err)
	}
	roads := ReadRoads([]string{filepath.Join(strings.TrimSpace(string(dir)), "testdata", "andorra-latest.osm.bz2")}, network.Options{})
	var main, pass routes.Route
	for r, err := range roads.Routes(ctx) {
		switch {
		case err != nil:
			t.Fatal(err)
		case r.Ref == "CG-2" && r.LengthM > main.LengthM:
			main = r
		case r.Name == "Port d'Envalira" && r.LengthM > pass.LengthM:
			pass = r
		}
	}
	topM, awayM := nearestM(&pass, orb.Point{1.719, 42.540})
	westM, apartM := nearestM(&main, pass.Line[0])
	if awayM > 300 || apartM > 300 {
		t.Fatalf("%s (%.0f m) passes %.0f m from the pass and begins %.0f m from %s", pass.ID, pass.LengthM, awayM, apartM, main.ID)
	}
	var stationM, heightM []float64
	for _, k := range []struct{ lonDeg, latDeg, heightM float64 }{{1.583, 42.536, 1238}, {1.600, 42.567, 1526}, {1.667, 42.577, 1825}} { // Encamp, Canillo, Soldeu
		m, awayM := nearestM(&main, orb.Point{k.lonDeg, k.latDeg})
		if awayM > 500 {
			t.Fatalf("%s passes %.0f m from the place at %.0f m", main.ID, awayM, k.heightM)
		}
		stationM, heightM = append(stationM, m), append(heightM, k.heightM)
	}
	const topHeightM, eastHeightM = 2408.0, 2085.0 // Port d'Envalira, Pas de la Casa
	riseM := topHeightM - heightM[2]
	junctionHeightM := heightM[2] + riseM*(westM-stationM[2])/(westM-stationM[2]+topM)
	stationM, heightM = append(stationM, westM), append(heightM, junctionHeightM)
	g := &alongRoad{cells: map[[2]int][]int{}}
	g.add(&main, 0, westM, func(m float64) float64 {
		i := 1
		for i < len(stationM)-1 && m > stationM[i] {
			i++
		}
		if m < stationM[0] {
			return heightM[0] - 0.02*(stationM[0]-m)
		}
		return heightM[i-1] + (m-stationM[i-1])/(stationM[i]-stationM[i-1])*(heightM[i]-heightM[i-1])
	})
	g.add(&pass, 0, pass.LengthM, func(m float64) float64 {
		if m < topM {
			return junctionHeightM + m/topM*(topHeightM-junctionHeightM)
		}
		return topHeightM + (m-topM)/(pass.LengthM-topM)*(eastHeightM-topHeightM)
	})
	o := Options{Classes: []vehicle.Class{class}, roads: roads}
	tasks := func(yield func(task, error) bool) { yield(task{route: pass, network: roads.mark()}, nil) }
	wantM, bestM := topM+westM-stationM[0], 0.0
	for res, err := range results(ctx, g, tasks, o) {
		if err != nil || res.Err != nil {
			t.Fatal(err, res.Err)
		}
		for i := range res.Entries {
			d := &res.Entries[i].Descent
			if d.EndM > d.StartM || math.Abs(d.StartM-topM) > 300 {
				continue
			}
			bestM = max(bestM, d.LengthM)
			for _, on := range d.GoesOn {
				bestM = max(bestM, on.LengthM)
			}
		}
	}
	said := fmt.Sprintf("%s, %.1f km, and %.1f km of %s: of %.1f km with a mean of %.1f %% one descent has %.1f %%", pass.ID, topM/1000, (westM-stationM[0])/1000, main.ID, wantM/1000, 100*(topHeightM-heightM[0])/wantM, 100*bestM/wantM)
	if t.Log(said); bestM < 0.9*wantM || bestM > 1.1*wantM {
		t.Error(said)
	}
}
