package survey_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"slices"
	"testing"

	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/terrain/synth"
)

var (
	reliefFrom  = flag.Uint64("relief.from", 51001, "first seed of BenchmarkRelief")
	reliefRoads = flag.Int("relief.roads", 12, "roads of each kind of BenchmarkRelief")
)

// reliefRow counts what one way of parting the found descents gives against the truth's.
type reliefRow struct {
	hits, truths, found int
	joined, parted      int // truths that share a found descent with another, found ones that share a true one
}

func (r *reliefRow) add(want, got []routes.Descent) {
	used := make([]bool, len(got))
	for _, t := range want {
		for k, f := range got {
			if !used[k] && iou(t, f) >= matchIoU {
				used[k] = true
				r.hits++
				break
			}
		}
	}
	r.truths, r.found = r.truths+len(want), r.found+len(got)
	r.joined += crowded(want, got)
	r.parted += crowded(got, want)
}

// crowded is how many of a share one of b with another of a, by half of their length at least.
func crowded(a, b []routes.Descent) int {
	n := 0
	for _, y := range b {
		in := 0
		for _, x := range a {
			lo, hi := math.Max(math.Min(x.StartM, x.EndM), math.Min(y.StartM, y.EndM)), math.Min(math.Max(x.StartM, x.EndM), math.Max(y.StartM, y.EndM))
			if hi-lo > x.LengthM/2 {
				in++
			}
		}
		if in > 1 {
			n += in
		}
	}
	return n
}

// BenchmarkRelief prints how well descents are found where the grade line's descents are parted by
// another relief than the truth's 12 m, or with a share of what smoothing took off: what a bench of
// 200 to 500 m, with 6 to 15 m of relief, leaves to chance.
func BenchmarkRelief(b *testing.B) {
	reliefs := []float64{8, 9, 10, 11, 12, 13, 14}
	for b.Loop() {
		for _, kind := range []synth.Kind{synth.ShortBenches, synth.OrdinaryRoad} {
			rows := map[string]*reliefRow{}
			row := func(cellM float64, what string) *reliefRow {
				k := fmt.Sprintf("%3g m cells, %s", cellM, what)
				if rows[k] == nil {
					rows[k] = &reliefRow{}
				}
				return rows[k]
			}
			for i := range *reliefRoads {
				road, cases, err := runRoad(context.Background(), synth.Options{Seed: *reliefFrom + uint64(i), Kind: kind}, []float64{10, 30, 90}, ours())
				if err != nil {
					b.Fatal(err)
				}
				truth := truthProfile(road)
				for _, c := range cases {
					lessSmoothed := func(share float64) *routes.Profile {
						p := *c.profile
						p.ElevationM = slices.Clone(p.ElevationM)
						for k := range p.ElevationM {
							p.ElevationM[k] += share * p.EaseM[k]
						}
						return &p
					}
					for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
						want := descent.Find(truth, dir, descent.Options{})
						for _, m := range reliefs {
							row(c.cellM, fmt.Sprintf("relief %4.1f m", m)).add(want, descent.Find(c.profile, dir, descent.Options{ReliefM: m}))
						}
						for _, share := range []float64{.25, .5, .75, 1} {
							row(c.cellM, fmt.Sprintf("%.0f %% of what smoothing took off", 100*share)).add(want, descent.Find(lessSmoothed(share), dir, descent.Options{}))
						}
					}
				}
			}
			var names []string
			for k := range rows {
				names = append(names, k)
			}
			slices.Sort(names)
			for _, k := range names {
				r := rows[k]
				fmt.Printf("kind %v, %s: F1 %.3f; true %d, found %d, true ones in one found %d, found ones in one true %d\n", kind, k, 2*float64(r.hits)/float64(r.truths+r.found), r.truths, r.found, r.joined, r.parted)
			}
		}
	}
}
