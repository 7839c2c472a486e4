package holding

import (
	"context"
	"flag"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/grade"
	"gradeline/routes/stationing"
	"gradeline/terrain"
	"gradeline/terrain/synth"
)

// drawnHill is a descent as a survey of a drawn road finds it, and the road itself from crest to foot.
type drawnHill struct {
	Seed    uint64
	CellM   float64
	Kind    synth.Kind
	Profile *routes.Profile
	Descent routes.Descent
	Road    Hill
}

const truthStepM = 20.0

// drawnInDoubt drives hills that a survey has in doubt too.
var drawnInDoubt = false

// surveyDrawn draws a road, samples its raster and finds the reliable descents of both
// directions, as a survey does.
func surveyDrawn(o synth.Options) ([]drawnHill, error) {
	road, err := synth.NewRoad(o)
	if err != nil {
		return nil, err
	}
	if slices.Min(road.TruthElevationM) < vehicle.LowestM+50 {
		return nil, nil // drawn deeper than any road, which advice refuses
	}
	route, err := routeOf(road)
	if err != nil {
		return nil, err
	}
	surface, err := missionsOf(road, o)
	if err != nil {
		return nil, err
	}
	ctx := context.Background()
	ground, err := stationing.Sample(ctx, surface, route, stationing.Options{HalfWidthM: -1})
	if err != nil {
		return nil, err
	}
	p, err := grade.Recover(ctx, ground, grade.Options{})
	if err != nil || !p.Reliable {
		return nil, err
	}
	if p, err = withDrives(ctx, p, road); err != nil {
		return nil, err
	}
	if drawnInDoubt {
		p.Doubtful = nil
	}
	var out []drawnHill
	for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		for _, d := range descent.FindAll(p, dir, descent.Options{}).Descents {
			if !d.HasFlag(routes.FlagUnreliable) {
				h := drawnHill{Seed: o.Seed, CellM: o.CellM, Kind: o.Kind, Profile: p, Descent: d}
				// Lengths of the digitised line in the plane and on the ellipsoid differ by millionths.
				h.Road = hillOnRoad(road, d.StartM*road.LengthM/p.LengthM, d.EndM*road.LengthM/p.LengthM)
				out = append(out, h)
			}
		}
	}
	return out, nil
}

// routeOf is the drawn road's line with the structures that carry a tag.
func routeOf(road *synth.Road) (*routes.Route, error) {
	f := routes.Feature{Tags: map[string]string{"name": road.Name}}
	for _, p := range road.Line {
		f.Line = append(f.Line, orb.Point{p.LonDeg, p.LatDeg})
	}
	for _, s := range road.Structures {
		if s.Flagged {
			kind := routes.Bridge
			if s.Kind == "tunnel" {
				kind = routes.Tunnel
			}
			f.Structures = append(f.Structures, routes.Structure{Kind: kind, FromM: s.FlagFromM, ToM: s.FlagToM, Flagged: true})
		}
	}
	list, skipped := stationing.Assemble([]routes.Feature{f})
	if len(list) != 1 || len(skipped) > 0 {
		return nil, &routes.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%s: %d routes, skipped %v", road.Name, len(list), skipped)}
	}
	return &list[0], nil
}

// hillOnRoad is the true road between two stations of its digitised line, in travel, without a bound.
// A truck's way is the road's own length: the line is shorter inside a bend and longer outside of it.
func hillOnRoad(road *synth.Road, crestM, footM float64) Hill {
	place := func(stationM float64) float64 { return road.RoadFromLineM(max(0, min(stationM, road.LengthM))) }
	from, to := place(crestM), place(footM)
	n := max(1, math.Round(math.Abs(to-from)/truthStepM))
	stepM := math.Abs(to-from) / n
	h := Hill{StationM: []float64{0}, ElevationM: []float64{road.HeightOnRoadM(from)}}
	for i := 1.0; i <= n; i++ {
		h.ElevationM = append(h.ElevationM, road.HeightOnRoadM(from+(to-from)*i/n))
		h.StationM = append(h.StationM, i*stepM)
		last := len(h.ElevationM) - 1
		h.DowngradePct = append(h.DowngradePct, 100*(h.ElevationM[last-1]-h.ElevationM[last])/stepM)
	}
	return h
}

var (
	drawnHills = flag.Int("drawn", 8, "drawn hills for each cell size; 2000 for the figures in NOTES.md")
	drawnSeed  = flag.Uint64("drawn.seed", 640001, "seed of the first drawn road")
	drawnCells = flag.String("drawn.cells", "10,30,90", "cell sizes in metres")
	drawnParts = flag.Bool("drawn.parts", false, "roads of short steep parts, 11 to 13 % within 5 to 7 %, instead of ordinary ones")
)

// Surveys of drawn terrain at 10, 30 and 90 m cells give grade lines that are off as a real
// survey's are. With the advice for those lines, the levers set at the top of the band and
// let go at its low end, each a second late, no truck turns its engine over the governed
// speed on the true road, at its heaviest mass and with each class; and the median advice
// is not under the share of the true grade's that is known to be had (see NOTES.md for
// what limits it).
func TestSurveyedHillsNeverOverspeedTheEngine(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	kind := synth.OrdinaryRoad
	if *drawnParts {
		kind = synth.ShortSteepParts
	}
	t.Logf("roads from seed %d", *drawnSeed)
	for _, text := range strings.Split(*drawnCells, ",") {
		cellM, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		var ratios []float64
		hills, held, over := 0, 0, 0
		for seed := *drawnSeed; hills < *drawnHills; seed++ {
			list, err := keptDrawn(synth.Options{Seed: seed, CellM: cellM, Kind: kind})
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			for i := range list {
				hills++
				r := driveDrawn(t, &list[i], classes)
				ratios, held, over = append(ratios, r.ratios...), held+r.held, over+r.over
			}
		}
		sort.Float64s(ratios)
		t.Logf("%2.0f m: %d hills, %d held answers, %d over the governed speed; median advice %.2f of what the true grade allows", cellM, hills, held, over, ratios[len(ratios)/2])
		if over > 0 {
			t.Errorf("%.0f m cells: %d of %d over the governed speed", cellM, over, held)
		}
		if least := map[float64]float64{10: 0.90, 30: 0.50, 90: 0.30}[cellM]; hills >= 200 && kind == synth.OrdinaryRoad && ratios[len(ratios)/2] < least {
			t.Errorf("%.0f m cells: median advice %.2f of what the true grade allows, was over %.2f", cellM, ratios[len(ratios)/2], least)
		}
	}
}

// drawnRuns is what became of the classes on one drawn hill.
type drawnRuns struct {
	ratios     []float64 // advice over that for the true grade, where that is held
	held, over int
}

// driveDrawn advises the classes on a hill as surveyed and drives them down the true one.
func driveDrawn(t *testing.T, h *drawnHill, classes []vehicle.Class) drawnRuns {
	var out drawnRuns
	seen, truth := HillFromDescent(h.Profile, &h.Descent, nil), h.Road
	seen.RadiusM = nil // curves are another test's
	if *drawnDrives == 0 && seen.CellM != h.CellM {
		t.Errorf("seed %d: terrain of %g m cells is taken for as good as %g m", h.Seed, h.CellM, seen.CellM)
	}
	bySurvey, byTruth := NewAdviser(seen), NewAdviser(truth)
	stepM := truth.StationM[1]
	at := func(x float64) int { return max(0, min(int(x/stepM), len(truth.DowngradePct)-1)) }
	for _, c := range classes {
		a, err := bySurvey.Advise(c, Options{MassKg: c.MassMaxKg})
		if err != nil {
			t.Fatalf("seed %d, %s: %v", h.Seed, c.ID, err)
		}
		b, err := byTruth.Advise(c, Options{MassKg: c.MassMaxKg})
		if err != nil {
			t.Fatalf("seed %d, %s: %v", h.Seed, c.ID, err)
		}
		if b.Holds {
			out.ratios = append(out.ratios, a.SpeedMPS/b.SpeedMPS)
		}
		if !a.Holds {
			continue
		}
		out.held++
		d := driver{stepS: 0.02, view: c.View(), hold: a,
			gradeP: func(x float64) float64 { return truth.DowngradePct[at(x)] },
			highM:  func(x float64) float64 { return truth.ElevationM[at(x)] }}
		for _, l := range a.Levers {
			d.levers = append(d.levers, l.Stages) // all of it where the advised stage is too weak
		}
		governed := c.Truck.SpeedFromRPM(a.Gear, c.Truck.EngineMaxRPM)
		if top := d.fastest(truth.LengthM()); top > governed+0.02*1.3 { // he sees the band's top up to one step late, at 13 % and less
			out.over++
			t.Logf("seed %d, %.0f m cells, %s from %.0f m, %.0f m long, %s: %.2f m/s, governed %.2f, advised %.2f", h.Seed, h.CellM, h.Descent.Direction, h.Descent.StartM, h.Descent.LengthM, c.ID, top, governed, a.SpeedMPS)
		}
	}
	return out
}

// Roads on which an engine passed its governed speed before a mean at the line's end counted 2.5 or three
// times its bound, and one in a hidden stretch twice (with two and one by .4 and .3 m/s at 10 m cells): at 90 m cells a part of 12.5 % over
// 200 m at the line's end is recovered as 5.4 %, at 10 m cells one of 8.8 % as 6.2 %, and one of 12 % over
// 400 m, from a found tunnel into a void, as 8.4 %.
func TestSteepPartsThatASurveyDoesNotShow(t *testing.T) {
	for _, o := range []synth.Options{
		{Seed: 640082, CellM: 90, Kind: synth.ShortSteepParts},
		{Seed: 620058, CellM: 10, Kind: synth.ShortSteepParts},
		{Seed: 620004, CellM: 10, Kind: synth.ShortSteepParts},
		{Seed: 832017, CellM: 90, Kind: synth.ShortSteepParts}, // 11.9 % recovered as 7.1, without 1.15 times the bound over by .22 m/s
		{Seed: 620103, CellM: 10, Kind: synth.ShortSteepParts}, // with two times the bound for a pitch at the line's end over by .1 m/s
	} {
		// Its tunnel of 950 m at 8.3 % without a tag is in doubt, as steeper than tunnels are: driven all
		// the same, as one of 7 % would be.
		drawnInDoubt = o.Seed == 620004
		over, held := driveRoad(t, o)
		drawnInDoubt = false
		if over != 0 || held == 0 {
			t.Errorf("road %d at %g m cells: %d of %d held answers over the governed speed", o.Seed, o.CellM, over, held)
		}
	}
}

// Roads whose digitised line cuts bends: by the line's own length a part of 12.6 % is 16.5 %, one of 7 %
// next to a found bridge 10 %. A truck drives the road, and on it nothing passes the governed speed.
func TestBendsThatALineCuts(t *testing.T) {
	for _, o := range []synth.Options{
		{Seed: 730100, CellM: 30, Kind: synth.ShortSteepParts},
		{Seed: 610013, CellM: 10},
	} {
		if over, held := driveRoad(t, o); over != 0 || held == 0 {
			t.Errorf("road %d at %g m cells: %d of %d held answers over the governed speed", o.Seed, o.CellM, over, held)
		}
	}
}

// With three drives in its grade line, road 820018 begins backward with a pitch of 10.4 % that the line
// has as 7.0 %. With twice the bound for a pitch four classes pass their governed speed by up to .13 m/s.
func TestAPitchThatDrivesRound(t *testing.T) {
	*drawnDrives = 3
	defer func() { *drawnDrives = 0 }()
	if over, held := driveRoad(t, synth.Options{Seed: 820018, CellM: 90, Kind: synth.ShortSteepParts}); over != 0 || held == 0 {
		t.Errorf("%d of %d held answers over the governed speed", over, held)
	}
}

// driveRoad drives all classes down the descents of a drawn road.
func driveRoad(t *testing.T, o synth.Options) (over, held int) {
	t.Helper()
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	list, err := surveyDrawn(o)
	if err != nil {
		t.Fatal(err)
	}
	for i := range list {
		r := driveDrawn(t, &list[i], classes)
		over, held = over+r.over, held+r.held
	}
	return over, held
}
