package survey

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// slope is a surface that falls eastward at some per cent between two longitudes.
type slope struct{ gradePct, fromDeg, toDeg float64 }

const perDegreeM = 77463.0 // of longitude at 46° N, near enough for a surface made up here

func (s slope) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i, p := range points {
		if p.LonDeg > 20 {
			out[i] = terrain.Sample{ElevationM: math.NaN(), Source: -1, Miss: terrain.Outside}
			continue
		}
		x := math.Max(0, math.Min(s.toDeg-s.fromDeg, p.LonDeg-s.fromDeg)) * perDegreeM
		out[i] = terrain.Sample{ElevationM: 1500 - s.gradePct/100*x, CellM: 10}
	}
	return ctx.Err()
}
func (slope) Sources() []terrain.Raster { return nil }
func (slope) Warnings() []string        { return nil }

func roads(n int) []routes.Route {
	var fs []routes.Feature
	for i := range n {
		lat := 46 + float64(i)*1e-3
		fs = append(fs, routes.Feature{Line: orb.LineString{{11, lat}, {11.1, lat}}, Tags: map[string]string{"name": fmt.Sprintf("Road %d", i)}, Place: routes.Place{File: "r", Feature: i + 1}})
	}
	rs, _ := stationing.Assemble(fs)
	return rs
}

func each(rs []routes.Route) iter.Seq2[routes.Route, error] {
	return func(yield func(routes.Route, error) bool) {
		for _, r := range rs {
			if !yield(r, nil) {
				return
			}
		}
	}
}

func options(t *testing.T, workers int) Options {
	t.Helper()
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	return Options{Classes: classes[:2], Units: catalog.US, Descent: descent.Options{}.WithDefaults(), Workers: workers}
}

var hill = slope{6, 11.02, 11.07}

func collect(t *testing.T, rs []routes.Route, workers int) []Result {
	t.Helper()
	var out []Result
	for r, err := range Results(context.Background(), hill, each(rs), options(t, workers)) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

func TestResultsAreTheSameWhateverTheWorkers(t *testing.T) {
	rs := roads(12)
	one, four := collect(t, rs, 1), collect(t, rs, 4)
	if len(one) != 12 || len(one[0].Entries) != 1 || len(one[0].Entries[0].Holds) != 2 {
		t.Fatalf("%d results, %+v", len(one), one[0].Err)
	}
	for i := range one {
		if one[i].Route.ID != rs[i].ID {
			t.Errorf("result %d is of %s", i, one[i].Route.ID)
		}
		if !reflect.DeepEqual(one[i].Entries, four[i].Entries) || !reflect.DeepEqual(one[i].Profile.ElevationM, four[i].Profile.ElevationM) {
			t.Errorf("route %d differs", i)
		}
	}
}

func TestAnEntryIsWholeAndNamed(t *testing.T) {
	e := collect(t, roads(1), 1)[0].Entries[0]
	d := e.Descent
	if d.Name != "Road 0, eastbound" || d.Direction != routes.Forward || e.Review.State != catalog.Surveyed {
		t.Errorf("%q %v %v", d.Name, d.Direction, e.Review.State)
	}
	first, last := e.Line[0], e.Line[len(e.Line)-1]
	const keptM = 0.0005 // a line's stations are kept to the millimetre
	if math.Abs(first.StationM-d.StartM) > keptM || math.Abs(last.StationM-d.EndM) > keptM || math.Abs(first.ElevationM-last.ElevationM-d.DropM) > 0.5 {
		t.Errorf("line from %+v to %+v, descent %+v", first, last, d)
	}
	for i := 1; i < len(e.Line); i++ {
		if e.Line[i].StationM <= e.Line[i-1].StationM {
			t.Fatalf("stations of the line do not grow at %d", i)
		}
	}
}

func TestAgainstOneWayIsFlagged(t *testing.T) {
	rs := roads(1)
	rs[0].OneWay, rs[0].OneWayDir = true, routes.Backward
	if e := collect(t, rs, 1)[0].Entries[0]; !e.Descent.HasFlag(routes.FlagAgainstOneWay) {
		t.Errorf("flags %v", e.Descent.Flags)
	}
}

func TestARouteThatFailsDoesNotStopTheOthers(t *testing.T) {
	rs := roads(3)
	for i := range rs[1].Line {
		rs[1].Line[i][0] += 20 // outside
	}
	got := collect(t, rs, 2)
	if got[1].Err == nil || !errors.Is(got[1].Err, terrain.ErrOutside) || got[0].Err != nil || got[2].Err != nil {
		t.Errorf("%v, %v, %v", got[0].Err, got[1].Err, got[2].Err)
	}
}

func TestResultsStop(t *testing.T) {
	count := 0
	for _, err := range Results(context.Background(), hill, each(roads(50)), options(t, 2)) {
		if err != nil {
			t.Fatal(err)
		}
		if count++; count == 3 {
			break
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	last := func(list iter.Seq2[Result, error]) (err error) {
		for _, err = range list {
			cancel()
		}
		return err
	}
	if err := last(Results(ctx, hill, each(roads(50)), options(t, 2))); !errors.Is(err, context.Canceled) {
		t.Errorf("after cancelling: %v", err)
	}
	boom := errors.New("boom")
	broken := func(yield func(routes.Route, error) bool) {
		if yield(roads(1)[0], nil) {
			yield(routes.Route{}, boom)
		}
	}
	if err := last(Results(context.Background(), hill, broken, options(t, 1))); !errors.Is(err, boom) {
		t.Errorf("after a broken file: %v", err)
	}
}

func TestInclineTagsAreOnlyCompared(t *testing.T) {
	rs := roads(1)
	rs[0].Incline = []routes.Incline{
		{FromM: 2000, ToM: 4000, GradePct: -6},                  // agrees
		{FromM: 2000, ToM: 4000, GradePct: 6},                   // the wrong sign
		{FromM: 2000, ToM: 4000, GradePct: math.NaN(), Sign: 1}, // up where it falls
	}
	r := collect(t, rs, 1)[0]
	notes := InclineNotes(&rs[0], r.Profile)
	if len(notes) != 2 {
		t.Errorf("%q", notes)
	}
}

func TestSitesAreReadAndPlaced(t *testing.T) {
	text := `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"kind":"brake-check","name":"Top","direction":"forward"},"geometry":{"type":"Point","coordinates":[11.01,45.9999]}},
{"type":"Feature","properties":{"highway":"escape"},"geometry":{"type":"LineString","coordinates":[[11.05,46.0002],[11.051,46.001]]}},
{"type":"Feature","properties":{"kind":"pullout"},"geometry":{"type":"Point","coordinates":[11.05,46.02]}},
{"type":"Feature","properties":{"kind":"cafe"},"geometry":{"type":"Point","coordinates":[11.05,46]}},
{"type":"Feature","properties":{"kind":"pullout"},"geometry":{"type":"Point","coordinates":[46,111]}},
{"type":"Feature","properties":{"kind":"pullout"},"geometry":null}]}`
	sites, skipped, err := ReadSites("s.geojson", strings.NewReader(text))
	if err != nil || len(sites) != 3 || len(skipped) != 3 {
		t.Fatalf("%v, %d sites, skipped %v", err, len(sites), skipped)
	}
	r := collect(t, roads(1), 1)[0]
	placed, unplaced := PlaceSites(sites, map[string][]*routes.Profile{"Road 0": {r.Profile}})
	if len(placed) != 2 || len(unplaced) != 1 {
		t.Fatalf("%+v, %+v", placed, unplaced)
	}
	if s := placed[0]; s.Route != "Road 0" || math.Abs(*s.StationM-0.01*77470) > 30 || s.Side != "right" {
		t.Errorf("south of an eastbound road is its right: %+v at %v", s, *s.StationM)
	}
	if placed[1].Kind != catalog.EscapeRamp || placed[1].Side != "" {
		t.Errorf("%+v", placed[1])
	}
}

func FuzzReadSites(f *testing.F) {
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"geometry":{"type":"Point","coordinates":[1,2]},"properties":{"kind":"pullout"}},null,{"geometry":{"type":"LineString","coordinates":[[]]}}]}`))
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"geometry":{"type":"Point","coordinates":[1e999,2]},"properties":null}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		sites, _, err := ReadSites("x", strings.NewReader(string(b)))
		for _, s := range sites {
			if !s.Point.Valid() || err != nil {
				t.Fatalf("%+v, %v", s, err)
			}
		}
	})
}

func TestFinishedRoutesNeedNoWorkAndKeepTheirPlace(t *testing.T) {
	rs := roads(9)
	want := collect(t, rs, 2)
	done := &finishedRoute{}
	tasks := func(yield func(task, error) bool) {
		for i, r := range rs {
			k := task{route: r}
			if i%3 == 2 {
				k.earlier = done
			}
			if !yield(k, nil) {
				return
			}
		}
	}
	for _, workers := range []int{1, 3} {
		i := 0
		for r, err := range results(context.Background(), hill, tasks, options(t, workers)) {
			if err != nil {
				t.Fatal(err)
			}
			isDone := i%3 == 2
			if r.Route.ID != rs[i].ID || (r.earlier == done) != isDone || isDone && (r.Profile != nil || r.Entries != nil || r.Err != nil) || !isDone && !reflect.DeepEqual(r.Entries, want[i].Entries) {
				t.Errorf("route %d: %+v", i, r)
			}
			i++
		}
		if i != len(rs) {
			t.Errorf("%d results", i)
		}
	}
}
