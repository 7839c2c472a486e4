package survey

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// noisySlope is a plane that falls by 4 % to the east and rises by 3 % to the north, with the noise of
// a raster of 30 m cells: 2 m in each corner, linear between them. It is drawn from the seed.
type noisySlope struct{ seed uint64 }

func (g noisySlope) heightM(x, y float64) float64 { return 1500 - 0.04*x + 0.03*y }

func (g noisySlope) cornerM(i, k int) float64 {
	rng := rand.New(rand.NewPCG(g.seed, uint64(i+50_000)<<32|uint64(k+50_000)))
	return 2 * rng.NormFloat64()
}

func (g noisySlope) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for n, p := range points {
		xy := xyOf(orb.Point{p.LonDeg, p.LatDeg})
		i, k := int(math.Floor(xy[0]/30)), int(math.Floor(xy[1]/30))
		s, t := xy[0]/30-float64(i), xy[1]/30-float64(k)
		noise := (1-t)*((1-s)*g.cornerM(i, k)+s*g.cornerM(i+1, k)) + t*((1-s)*g.cornerM(i, k+1)+s*g.cornerM(i+1, k+1))
		out[n] = terrain.Sample{ElevationM: g.heightM(xy[0], xy[1]) + noise, CellM: 30}
	}
	return nil
}
func (noisySlope) Sources() []terrain.Raster { return []terrain.Raster{{Name: "slope", CellM: 30}} }
func (noisySlope) Warnings() []string        { return nil }

// comb is a main road of 6 km to the east with side roads of 600 m to the north, every 700 m, and a
// road that crosses it at a vertex of both; tagBridge puts the last side road's beginning on a bridge.
func comb(tagBridge bool) *passDrawing {
	d := &passDrawing{rng: rand.New(rand.NewPCG(1, 1)), next: 1_000_000}
	straight := func(x, y, dx, dy float64, n int, first int64, tags map[string]string) {
		var line orb.LineString
		var nodes []int64
		for k := range n + 1 {
			line, nodes = append(line, drawnAt(x+dx*float64(k), y+dy*float64(k))), append(nodes, 0)
		}
		nodes[0] = first
		d.add(line, nodes, tags)
	}
	straight(0, 0, 20, 0, 300, 0, map[string]string{"highway": "trunk", "name": "Main Road"})
	main := d.features[0].NodeIDs
	for k := range 8 {
		at := 20 + 35*k
		tags := map[string]string{"highway": "tertiary", "name": fmt.Sprintf("Side Road %d", k)}
		first, from := main[at], 0
		if k == 7 && tagBridge {
			from = 5
			straight(20*float64(at), 0, 0, 20, from, first, map[string]string{"highway": "tertiary", "name": tags["name"], "bridge": "yes"})
			first = d.features[len(d.features)-1].NodeIDs[from]
		}
		straight(20*float64(at), 20*float64(from), 0, 20, 30-from, first, tags)
	}
	straight(2600, -800, 0, 20, 80, 0, map[string]string{"highway": "secondary", "name": "Cross Road"})
	d.features[len(d.features)-1].NodeIDs[40] = main[130]
	return d
}

// endErrors are the errors of the grade of the last 100 m of the side roads, in points, with how many
// of their bounds hold.
func endErrors(list []*routes.Profile) (rms float64, held int) {
	for _, p := range list {
		e := 100*(p.ElevationAtM(100)-p.ElevationAtM(0))/100 - 3
		if math.Abs(e) <= p.MeanErrPct(0, 100) {
			held++
		}
		rms += e * e
	}
	return math.Sqrt(rms / float64(len(list))), held
}

// Roads that meet have one height at their node, on drawn networks with the noise of a raster; the
// grade of a side road next to the node is nearer the truth than that of the road alone, and no fewer
// bounds hold. The result is the same for any number of workers. A road on a bridge keeps its own height.
func TestRoadsThatMeetShareTheirHeight(t *testing.T) {
	o := options(t, 1)
	o.Classes = nil
	var alone, led []*routes.Profile
	for seed := uint64(1); seed <= 6; seed++ {
		g, drawn := noisySlope{seed}, comb(seed%2 == 0)
		results := surveyNetwork(t, drawn.features, nil, g, o)
		byName := map[string]*Result{}
		for i := range results {
			byName[results[i].Route.Name] = &results[i]
		}
		o.Workers = 3
		for i, r := range surveyNetwork(t, drawn.features, nil, g, o) {
			if !reflect.DeepEqual(r.Profile.ElevationM, results[i].Profile.ElevationM) {
				t.Errorf("seed %d: %s differs with three workers", seed, r.Route.Name)
			}
		}
		o.Workers = 1
		main := byName["Main Road"].Profile
		meets := func(p *routes.Profile, atM, mainM float64) bool {
			return math.Abs(p.ElevationAtM(atM)-main.ElevationAtM(mainM)) < 0.25
		}
		if !meets(byName["Cross Road"].Profile, 800, 2600) {
			t.Errorf("seed %d: the crossing road differs by %.2f m", seed, byName["Cross Road"].Profile.ElevationAtM(800)-main.ElevationAtM(2600))
		}
		for k := range 8 {
			r := byName[fmt.Sprintf("Side Road %d", k)]
			own := One(context.Background(), g, &r.Route, Options{Descent: o.Descent})
			if k == 7 && seed%2 == 0 {
				if !reflect.DeepEqual(own.Profile.ElevationM, r.Profile.ElevationM) {
					t.Errorf("seed %d: a bridge takes the height of a road", seed)
				}
				continue
			}
			if !isFirm(own.Profile, 0) || !isFirm(main, 400+700*float64(k)) { // in doubt by its own heights
				continue
			}
			if !meets(r.Profile, 0, 400+700*float64(k)) {
				t.Errorf("seed %d, side road %d: it differs by %.2f m", seed, k, r.Profile.ElevationAtM(0)-main.ElevationAtM(400+700*float64(k)))
			}
			if !reflect.DeepEqual(own.Profile.Bound, r.Profile.Bound) {
				t.Errorf("seed %d, side road %d: another bound", seed, k)
			}
			alone, led = append(alone, own.Profile), append(led, r.Profile)
		}
	}
	before, heldBefore := endErrors(alone)
	after, heldAfter := endErrors(led)
	t.Logf("grade of the 100 m at %d nodes: off by %.2f points alone, %d bounds hold; %.2f and %d where the roads share their height", len(led), before, heldBefore, after, heldAfter)
	if after > 0.7*before || heldAfter < heldBefore || heldAfter < len(led)*95/100 || len(led) < 40 {
		t.Error("sharing does not help")
	}
}

// A survey that was interrupted after some roads and continued gives the other roads the same heights:
// those of the finished roads come from the journal, which is JSON text.
func TestAContinuedSurveySharesTheSameHeights(t *testing.T) {
	o, drawn, g := options(t, 2), comb(false), noisySlope{3}
	o.Classes = nil
	whole := surveyNetwork(t, drawn.features, nil, g, o)
	list := ReadRoads([]string{extractOf(t, drawn.features, nil)}, network.Options{})
	o.roads = list
	for _, done := range []int{1, 4, len(whole) - 1} {
		n := 0
		tasks := func(yield func(task, error) bool) {
			for r, err := range list.Routes(context.Background()) {
				k := task{route: r, network: list.mark()}
				if n < done {
					var facts recordFacts
					nodes := nodeHeights(whole[n].Profile, list.nodesOf(&whole[n].Route, whole[n].Profile.LengthM))
					if err := json.Unmarshal([]byte(mustJSON(recordFacts{Nodes: routeNodes{Heights: nodes}})), &facts); err != nil {
						t.Fatal(err)
					}
					k.earlier = &finishedRoute{nodes: facts.Nodes.Heights}
				}
				if n++; !yield(k, err) {
					return
				}
			}
		}
		at := 0
		for r, err := range results(context.Background(), g, tasks, o) {
			if err != nil || r.Err != nil {
				t.Fatal(err, r.Err)
			}
			if at >= done && !reflect.DeepEqual(r.Profile.ElevationM, whole[at].Profile.ElevationM) {
				t.Errorf("%d roads finished before: %s differs", done, r.Route.Name)
			}
			at++
		}
		if at != len(whole) {
			t.Errorf("%d of %d roads", at, len(whole))
		}
	}
}

// A height that contradicts a road's own, that of a later road and one that rests on no ground are
// left out.
func TestWhichHeightsLeadARoad(t *testing.T) {
	const n = 100
	p := &routes.Profile{StepM: 10, LengthM: 10 * (n - 1), Reliable: true, CellM: 30, Noise: routes.Noise{SigmaM: 1.5, TauM: 50}, Bound: routes.ErrorModel{ElevationM: 2}}
	for i := range n {
		z := 500 - 0.5*float64(i)
		p.ElevationM, p.GroundM, p.State, p.Points = append(p.ElevationM, z), append(p.GroundM, z), append(p.State, routes.Measured), append(p.Points, drawnAt(10*float64(i), 0))
	}
	first := p.Points[0]
	for _, c := range []struct {
		what       string
		elevationM float64
		isFirm     bool
		order      int
		doubt      bool
		wantM      float64
	}{
		{"another road's height", 501, true, 3, false, 501},
		{"that of a later road", 501, true, 7, false, 500},
		{"one that is too far off", 505, true, 3, false, 500},
		{"one on a bridge", 501, false, 3, false, 500},
		{"where the road is in doubt", 501, true, 3, true, 500},
	} {
		var m meetings
		m.add(c.order, []nodeHeight{{LonDeg: first[0], LatDeg: first[1], ElevationM: c.elevationM, ErrM: 2, IsFirm: c.isFirm}})
		m.add(c.order+1, []nodeHeight{{LonDeg: first[0], LatDeg: first[1], ElevationM: 400, ErrM: 2, IsFirm: true}}) // the first counts
		if !c.isFirm {
			m.at = nil
			m.add(c.order, []nodeHeight{{LonDeg: first[0], LatDeg: first[1], ElevationM: c.elevationM, ErrM: 2, IsFirm: c.isFirm}})
		}
		q := *p
		if c.doubt {
			q.Doubtful = []routes.Doubt{{FromM: 0, ToM: 200}}
		}
		got := m.lead(&q, 5, nil)
		if math.Abs(got.ElevationAtM(0)-c.wantM) > 0.1 || math.Abs(got.ElevationAtM(p.LengthM)-p.ElevationAtM(p.LengthM)) > 0.3 {
			t.Errorf("%s: %.2f m at the node, want %.1f; %.2f m at the other end", c.what, got.ElevationAtM(0), c.wantM, got.ElevationAtM(p.LengthM))
		}
	}
}
