package survey

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
)

// extractOf writes drawn roads as an OpenStreetMap extract.
func extractOf(t testing.TB, features []routes.Feature, turns []routes.Turn) string {
	t.Helper()
	var nodes, ways, relations strings.Builder
	seen := map[int64]bool{}
	for _, f := range features {
		fmt.Fprintf(&ways, "<way id=%q>", f.WayID)
		for i, id := range f.NodeIDs {
			if !seen[id] {
				seen[id] = true
				fmt.Fprintf(&nodes, "<node id=\"%d\" lat=\"%.7f\" lon=\"%.7f\"/>\n", id, f.Line[i][1], f.Line[i][0])
			}
			fmt.Fprintf(&ways, "<nd ref=\"%d\"/>", id)
		}
		for k, v := range f.Tags {
			fmt.Fprintf(&ways, "<tag k=%q v=%q/>", k, v)
		}
		ways.WriteString("</way>\n")
	}
	for i, r := range turns {
		kind := "no_left_turn"
		if r.IsOnly {
			kind = "only_straight_on"
		}
		fmt.Fprintf(&relations, "<relation id=\"%d\"><member type=\"way\" ref=\"%d\" role=\"from\"/><member type=\"node\" ref=\"%d\" role=\"via\"/><member type=\"way\" ref=\"%d\" role=\"to\"/><tag k=\"type\" v=\"restriction\"/><tag k=\"restriction\" v=%q/></relation>\n",
			i+1, r.FromWays[0], r.ViaNode, r.ToWays[0], kind)
	}
	file := filepath.Join(t.TempDir(), "drawn.osm")
	if err := os.WriteFile(file, []byte("<osm version=\"0.6\">\n"+nodes.String()+ways.String()+relations.String()+"</osm>\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// keptFrom surveys an extract over a drawn ground into a catalogue.
func keptFrom(t testing.TB, file string, ground drawnGround, class *vehicle.Class) *store.Catalog {
	t.Helper()
	ctx := context.Background()
	cat, err := store.Open(ctx, filepath.Join(t.TempDir(), "hills.gpkg"), store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cat.Close() })
	o := Options{Classes: []vehicle.Class{*class}}
	list, summary := network.Read(ctx, []string{file}, network.Options{})
	batch := cat.BeginSurvey(store.SaveOptions{})
	for r, err := range list {
		if err != nil {
			t.Fatal(err)
		}
		res := One(ctx, ground, &r, o)
		if res.Err != nil {
			t.Fatal(res.Err)
		}
		kept, _ := summary.KeptRoad(r.ID)
		road := store.NetworkRoad{KeptRoad: kept, Masks: masksOf(&res, &o)}
		if err := road.Pack(res.Profile); err != nil {
			t.Fatal(err)
		}
		if err := batch.SaveNetworkRoad(ctx, store.NetworkSource{Files: file, Turns: summary.Turns()}, &road); err != nil {
			t.Fatal(err)
		}
	}
	if err := batch.FinishNetwork(ctx, store.NetworkSource{Files: file, Turns: summary.Turns()}, summary.Kept()); err != nil {
		t.Fatal(err)
	}
	if err := saveNetworkParts(ctx, batch, o.Classes, 0, nil); err != nil {
		t.Fatal(err)
	}
	if err := batch.Close(); err != nil {
		t.Fatal(err)
	}
	return cat
}

// A network of a catalogue answers as brute force over all its ways does, each as one
// line of the kept grade lines; and the way that it names is the one that is best on the
// terrain itself. No way has fewer hills, or fewer that are not held, in the catalogue. It
// is stricter in nine of 109: two are not held that the truck just holds on the ground, and
// seven have one hill more, of 800 m at 4.24 %, which a line of a whole way parts otherwise.
func TestTheBestOfAllWaysOfACatalogue(t *testing.T) {
	class := testClass(t)
	seeds, held, other, sameHold, hills, fewer := uint64(15), 0, 0, 0, 0, 0
	if testing.Short() {
		seeds = 4
	}
	ctx := context.Background()
	for seed := uint64(1); seed <= seeds; seed++ {
		prefer := []ranking.Prefer{ranking.PreferTime, ranking.PreferLength, ranking.PreferMargin}[seed%3]
		features, turns, places, ground := drawnRoads(rand.New(rand.NewPCG(seed, 42)))
		file := extractOf(t, features, turns)
		cat := keptFrom(t, file, ground, &class)
		k, err := OpenNetwork(ctx, cat, &class, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		k.slackShare = 0
		v := network.Vehicle{MassKg: class.MassMaxKg}
		q := TripQuery{Options: Options{Classes: []vehicle.Class{class}}, Vehicle: v, Prefer: prefer, MostSurveys: 1 << 20}
		got, _, err := k.FindTrips(ctx, places, q)
		if err != nil {
			t.Fatal(err)
		}
		g, _, err := k.graph.WithPlaces(places, nil)
		if err != nil {
			t.Fatal(err)
		}
		numberVertices(g, features)
		one := newTripper(g, q)
		one.result = func(ctx context.Context, w network.Way, r *routes.Route) Result {
			return k.result(ctx, g, w, r, one.query.Options)
		}
		onGround := newTripper(g, q)
		onGround.result = func(ctx context.Context, _ network.Way, r *routes.Route) Result {
			return One(ctx, ground, r, onGround.query.Options)
		}
		counted, graph := k.counter(t, places, q)
		var best, bestOnGround *Trip
		ways := allWays(g, turns, places[0], places[1], func(e int32) bool { return v.Refusal(g.Feature(e), g.Edge(e).IsReversed) == "" })
		for _, w := range ways {
			trip, err := one.survey(ctx, w)
			if err != nil {
				t.Fatal(err)
			}
			if least := counted(w); !math.IsInf(trip.TimeS, 1) && least > trip.TimeS+overstatedS {
				t.Errorf("seed %d, %v of %d edges: the search counts %.2f s, the survey %.2f s", seed, w.Edges, graph.Edges(), least, trip.TimeS)
			}
			real, err := onGround.survey(ctx, w)
			if err != nil {
				t.Fatal(err)
			}
			// Whether a line is drawn well enough is judged over its length, which differs.
			if len(trip.NotHeld(class.ID)) == len(real.NotHeld(class.ID)) && len(trip.Entries) == len(real.Entries) {
				sameHold++
			}
			if len(trip.NotHeld(class.ID)) < len(real.NotHeld(class.ID)) || len(trip.Entries) < len(real.Entries) {
				fewer++
			}
			hills++
			if trip.IsHeld && (best == nil || isBetter(trip, best, class.ID, prefer)) {
				best = trip
			}
			if real.IsHeld && (bestOnGround == nil || isBetter(real, bestOnGround, class.ID, prefer)) {
				bestOnGround = real
			}
		}
		name := fmt.Sprintf("seed %d, by %s, %d ways", seed, prefer, len(ways))
		checkBest(t, name, best, got, class.ID, prefer)
		if best == nil || bestOnGround == nil {
			continue
		}
		held++
		if tripKey(best.Way) != tripKey(bestOnGround.Way) {
			other++
		} else if math.Abs(best.TimeS-bestOnGround.TimeS) > 0.03*bestOnGround.TimeS {
			t.Errorf("%s: %.1f s by the catalogue, %.1f s on the ground", name, best.TimeS, bestOnGround.TimeS)
		}
	}
	t.Logf("%d answers, %d of them another way than on the ground itself; %d of %d ways have as many hills held and not held", held, other, sameHold, hills)
	if fewer > 0 {
		t.Errorf("%d ways have fewer hills, or fewer that are not held, than on the ground", fewer)
	}
	if !testing.Short() && (held < 8 || float64(sameHold) < 0.9*float64(hills) || other > 0) {
		t.Error("the catalogue's network differs from the ground")
	}
}

// A network that is surveyed again replaces its roads; a newer extract with other numbers
// of ways gives the same roads.
func TestANetworkIsUpdated(t *testing.T) {
	class := testClass(t)
	ctx := context.Background()
	features, turns, _, ground := drawnRoads(rand.New(rand.NewPCG(3, 42)))
	cat := keptFrom(t, extractOf(t, features, turns), ground, &class)
	before, err := cat.Network(ctx)
	if err != nil || len(before.Roads) == 0 || len(before.Sources) != 1 || len(before.Sources[0].Turns) != len(turns) {
		t.Fatal(len(before.Roads), err)
	}
	// Without its last road, the ways numbered anew.
	fewer := features[:len(features)-1]
	for i := range fewer {
		fewer[i].WayID = fmt.Sprint(9000 - i)
	}
	list, summary := network.Read(ctx, []string{extractOf(t, fewer, nil)}, network.Options{Options: vector.Options{}})
	batch := cat.BeginSurvey(store.SaveOptions{})
	for range list {
	}
	if err := batch.FinishNetwork(ctx, store.NetworkSource{Files: "newer.osm"}, summary.Kept()); err != nil {
		t.Fatal(err)
	}
	if err := batch.Close(); err != nil {
		t.Fatal(err)
	}
	after, err := cat.Network(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if want := len(summary.Kept()); len(after.Roads) != want || len(after.Sources) != 1 || after.Sources[0].Files != "newer.osm" {
		t.Errorf("%d roads of %d sources, want %d of 1", len(after.Roads), len(after.Sources), want)
	}
	for _, r := range after.Roads {
		for _, l := range r.Lines {
			if !strings.HasPrefix(l.WayID, "9") && !strings.HasPrefix(l.WayID, "8") {
				t.Errorf("%s has way %s of the older extract", r.ID, l.WayID)
			}
		}
	}
	if defects, err := cat.Doctor(ctx); err != nil || len(defects) > 0 {
		t.Error(defects, err)
	}
}

// numberVertices gives the vertices of a kept graph the numbers that they were drawn with.
func numberVertices(g *network.Graph, features []routes.Feature) {
	ids := map[orb.Point]int64{}
	for _, f := range features {
		for i, p := range f.Line {
			ids[p] = f.NodeIDs[i]
		}
	}
	for e := range int32(g.Edges()) {
		f := g.Feature(e)
		f.NodeIDs = make([]int64, len(f.Line))
		for i, p := range f.Line {
			f.NodeIDs[i] = ids[p]
		}
	}
}

// counter is what the search for the quickest way counts for a way, hills and all.
func (k *KeptNetwork) counter(t *testing.T, places []orb.Point, q TripQuery) (func(network.Way) float64, *network.Graph) {
	g, _, err := k.graph.WithPlaces(places, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := k.costCuts(context.Background(), g); err != nil {
		t.Fatal(err)
	}
	c := newTripper(g, q)
	c.query.Prefer = ranking.PreferTime
	c.turnS = func(from, to int32) float64 { return k.turnS(g, from, to) }
	times := make([]float64, g.Edges())
	for e := range times {
		times[e] = k.costOf(g, int32(e)).timeS
	}
	hills := g.WithRules(k.graph.MakeRules(k.maskRules(ranking.PreferTime, 0)))
	return func(w network.Way) float64 { return c.leastCost(w, times) + hills.RulesCost(w) }, g
}

// wavy is the grade line of a road on drawn waves, as if it had been surveyed.
func wavy(lengthM float64, at func(m float64) [2]float64) *routes.Profile {
	n := max(1, int(math.Ceil(lengthM/10)))
	p := &routes.Profile{StepM: lengthM / float64(n), LengthM: lengthM, Reliable: true, CellM: 10,
		Bound: routes.ErrorModel{EndM: 30, ElevationM: 1, FloorPct: 0.1, SpanM: []float64{100, 500, 1000}, SpanPct: []float64{1, 0.5, 0.3}}}
	for i := range n + 1 {
		q := at(p.StationM(i))
		z := 30 + 12*math.Sin(q[0]*260)*math.Sin(q[1]*300) // a flat state
		p.GroundM, p.ElevationM, p.State = append(p.GroundM, z), append(p.ElevationM, z), append(p.State, routes.Measured)
		p.Points, p.RadiusM, p.EaseM = append(p.Points, q), append(p.RadiusM, math.Inf(1)), append(p.EaseM, 0)
	}
	return p
}

// BenchmarkKeptNetwork opens the network of all roads of Delaware, on drawn waves, and
// asks it for ways between its ends. The extract is that of paulmach/osm's test data.
func BenchmarkKeptNetwork(b *testing.B) {
	ctx := context.Background()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/paulmach/osm").Output()
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(strings.TrimSpace(string(out)), "testdata", "delaware-latest.osm.pbf")
	class := testClass(b)
	o := Options{Classes: []vehicle.Class{class}}
	cat, err := store.Open(ctx, filepath.Join(b.TempDir(), "hills.gpkg"), store.Options{Create: true})
	if err != nil {
		b.Fatal(err)
	}
	defer cat.Close()
	all := []string{"motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential", "service", "living_street", "road", "track"}
	list, summary := network.Read(ctx, []string{file}, network.Options{Options: vector.Options{Roads: all}})
	batch := cat.BeginSurvey(store.SaveOptions{})
	source := store.NetworkSource{Files: "delaware"}
	for r, err := range list {
		if err != nil {
			b.Fatal(err)
		}
		vertex := 0
		p := wavy(r.LengthM, func(m float64) [2]float64 {
			for vertex+2 < len(r.VertexM) && r.VertexM[vertex+1] < m {
				vertex++
			}
			return pointBetween(&r, vertex, m)
		})
		p.RadiusM = stationing.RadiiM(&r, p.Count(), p.StepM)
		res := Result{Route: r}
		res.describe(p, &r, o)
		kept, _ := summary.KeptRoad(r.ID)
		road := store.NetworkRoad{KeptRoad: kept, Masks: masksOf(&res, &o)}
		if err := road.Pack(p); err != nil {
			b.Fatal(err)
		}
		source.Turns = summary.Turns()
		if err := batch.SaveNetworkRoad(ctx, source, &road); err != nil {
			b.Fatal(err)
		}
	}
	if err := batch.FinishNetwork(ctx, source, summary.Kept()); err != nil {
		b.Fatal(err)
	}
	if err := saveNetworkParts(ctx, batch, o.Classes, 0, nil); err != nil {
		b.Fatal(err)
	}
	if err := batch.Close(); err != nil {
		b.Fatal(err)
	}
	var k *KeptNetwork
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			if k, err = OpenNetwork(ctx, cat, &class, 0, nil); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(k.graph.Edges()), "edges")
	})
	q := TripQuery{Options: o, Vehicle: network.Vehicle{MassKg: class.MassMaxKg, HeightM: 4.1, LengthM: 20, AxleLoadKg: 9000}, Prefer: ranking.PreferTime}
	for name, places := range map[string][]orb.Point{"across": {{-75.595, 38.64}, {-75.55, 39.75}}, "near": {{-75.55, 39.15}, {-75.52, 39.3}}} {
		b.Run(name, func(b *testing.B) {
			surveyed, found := 0, 0
			for b.Loop() {
				trips, _, err := k.FindTrips(ctx, places, q)
				if err != nil {
					b.Fatal(err)
				}
				surveyed, found = trips.Surveyed, len(trips.List)
			}
			b.ReportMetric(float64(surveyed), "ways-looked-at")
			b.ReportMetric(float64(found), "ways-found")
		})
	}
}
