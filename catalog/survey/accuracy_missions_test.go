package survey_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gradeline/routes/grade"
	"gradeline/routes/stationing"
	"gradeline/terrain/raster"
	"gradeline/terrain/synth"
)

// missionRoads is how many roads are drawn for each number of missions.
const missionRoads = 5

// withMissions recovers a road from several observations of its ground at 30 m, each
// with noise, grid and voids of its own; a copy is the first one again, moved by a
// third of a cell and resampled.
func withMissions(t testing.TB, seed uint64, missions int, copies bool) (*synth.Road, recovered) {
	t.Helper()
	const cellM = 30
	ctx, dir := context.Background(), t.TempDir()
	var paths []string
	var road *synth.Road
	for m := range missions {
		o := optionsOf([]uint64{seed})[0]
		o.Mission = uint8(m)
		r, err := synth.NewRoad(o)
		if err != nil {
			t.Fatal(err)
		}
		if road == nil {
			road = r
		}
		sub := filepath.Join(dir, fmt.Sprint(m))
		if err := os.Mkdir(sub, 0o755); err != nil {
			t.Fatal(err)
		}
		more, err := writeRasters(r, cellM, sub)
		if err != nil {
			t.Fatal(err)
		}
		paths = append(paths, more...)
	}
	if copies {
		paths = append(paths, resampledCopy(t, road, cellM, dir))
	}
	route, err := readBackRoute(ctx, road, synth.Form(seed%2), filepath.Join(dir, "road.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	surface, err := raster.Open(ctx, paths, raster.Options{Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer surface.Close()
	g, err := stationing.Sample(ctx, surface, route, stationing.Options{HalfWidthM: -1})
	if err != nil {
		t.Fatal(err)
	}
	p, err := grade.Recover(ctx, g, grade.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return road, recovered{profile: p, cellM: cellM}
}

// resampledCopy writes the first mission again on a grid a third of a cell off.
func resampledCopy(t testing.TB, road *synth.Road, cellM float64, dir string) string {
	t.Helper()
	g, err := road.Grid(cellM)
	if err != nil {
		t.Fatal(err)
	}
	moved := *g
	moved.WestX, moved.NorthY = g.WestX+cellM/3, g.NorthY-cellM/3
	moved.ElevationM = slices.Clone(g.ElevationM)
	for r := 0; r+1 < g.Rows; r++ {
		for c := 0; c+1 < g.Cols; c++ {
			k := r*g.Cols + c
			north := (2*g.ElevationM[k] + g.ElevationM[k+1]) / 3
			south := (2*g.ElevationM[k+g.Cols] + g.ElevationM[k+g.Cols+1]) / 3
			moved.ElevationM[k] = (2*north + south) / 3
		}
	}
	path := filepath.Join(dir, "copy.tif")
	if err := raster.Write(path, &moved, raster.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	return path
}

// missionScore is what some missions give on some roads.
type missionScore struct {
	s       score
	halfPct float64 // mean half-width of the mean over 1,000 m
}

func measureMissions(t testing.TB, seeds []uint64, missions int, copies bool) (out missionScore) {
	for _, seed := range seeds {
		road, c := withMissions(t, seed, missions, copies)
		out.s.add(measureRoad(road, c))
		out.halfPct += c.profile.Bound.MeanErrPct(1000, 0)
	}
	out.halfPct /= float64(len(seeds))
	return out
}

// BenchmarkMissions prints what one, two and three missions at 30 m give on roads of the
// hold-out Fresh, on which nothing about averaging was chosen.
func BenchmarkMissions(b *testing.B) {
	for b.Loop() {
		for missions := 1; missions <= 3; missions++ {
			m := measureMissions(b, synth.Fresh[:20], missions, false)
			b.Logf("%d missions: grade RMSE %.3f, F1 %.3f of %d, half-width over 1,000 m %.3f, cover of means %.3f of %d, of heights %.3f",
				missions, rms(m.s.gradeAll), m.s.f1(), m.s.truths, m.halfPct, share(m.s.coverStated), m.s.coverStated.all, share(m.s.coverElev))
		}
	}
}

// Three independent missions at 30 m make grades and descents better and bounds
// narrower, and the narrower bounds still hold; a resampled copy does neither. On
// these five roads, on which the limit of what counts as independent was chosen too:
// RMSE .735 and .665, F1 .90 and 1.00, half-width .340 and .268. The limits below guard
// against a change for the worse; they state no size of the gain.
func TestMissionsAreAveraged(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute")
	}
	measure := func(roads, missions int, copies bool) missionScore {
		return measureMissions(t, synth.Tuning[:roads], missions, copies)
	}
	one, three := measure(missionRoads, 1, false), measure(missionRoads, 3, false)
	first, copied := measure(2, 1, false), measure(2, 1, true)
	for _, r := range []struct {
		name string
		r    missionScore
	}{{"one", one}, {"three", three}, {"one and its copy", copied}} {
		t.Logf("%s: grade RMSE %.3f, F1 %.3f of %d, half-width over 1,000 m %.3f, cover %.3f of %d",
			r.name, rms(r.r.s.gradeAll), r.r.s.f1(), r.r.s.truths, r.r.halfPct, share(r.r.s.coverMatched), r.r.s.coverMatched.all)
	}
	if a, b := rms(three.s.gradeAll), rms(one.s.gradeAll); a > .95*b {
		t.Errorf("grade RMSE %.3f with three missions, %.3f with one", a, b)
	}
	if three.s.f1() < one.s.f1() || share(three.s.coverMatched) < share(one.s.coverMatched) {
		t.Errorf("F1 %.3f and cover %.3f with three missions", three.s.f1(), share(three.s.coverMatched))
	}
	if three.halfPct > .85*one.halfPct {
		t.Errorf("half-width %.3f with three missions, %.3f with one", three.halfPct, one.halfPct)
	}
	if copied.halfPct != first.halfPct || rms(copied.s.gradeAll) != rms(first.s.gradeAll) {
		t.Errorf("a copy changes %.4f to %.4f", first.halfPct, copied.halfPct)
	}
}

func share(c cover) float64 { return float64(c.in) / float64(max(1, c.all)) }
