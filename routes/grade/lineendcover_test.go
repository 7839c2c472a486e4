package grade

import (
	"flag"
	"fmt"
	"math"
	"testing"

	"gradeline/routes"
	"gradeline/terrain/synth"
)

var (
	endsFrom  = flag.Uint64("ends.from", 73001, "first seed of BenchmarkLineEnds")
	endsRoads = flag.Int("ends.roads", 40, "roads of BenchmarkLineEnds at each cell size")
)

// endKinds are where a drawn road is cut in two: at its highest and its lowest place, and where it
// is steepest over 600 m.
var endKinds = []string{"summit", "valley", "slope"}

// endFigures are of the heights at the ends of lines: errors of the grade line and of the ground,
// and how many are within their bounds.
type endFigures struct {
	offM, groundM, boundM []float64
	within                int
}

// lineEnds cuts a drawn road at a place of each kind and adds the figures of both lines there.
func lineEnds(t testing.TB, o synth.Options, out map[string]*endFigures) {
	rc := synthCase(t, o)
	n := rc.ground.Count()
	margin, half := int(1500/rc.ground.StepM), int(300/rc.ground.StepM)
	at := map[string]int{"summit": margin, "valley": margin, "slope": margin}
	steep := func(i int) float64 { return math.Abs(rc.truth[i+half] - rc.truth[i-half]) }
	for i := margin; i < n-margin; i++ {
		if rc.truth[i] > rc.truth[at["summit"]] {
			at["summit"] = i
		}
		if rc.truth[i] < rc.truth[at["valley"]] {
			at["valley"] = i
		}
		if steep(i) > steep(at["slope"]) {
			at["slope"] = i
		}
	}
	for _, kind := range endKinds {
		k := at[kind]
		for _, c := range []struct{ from, to, end int }{{0, k, k}, {k, n - 1, 0}} {
			p := mustRecover(t, cutGround(rc.ground, c.from, c.to), Options{})
			if p.State[c.end] != routes.Measured { // a bridge or a tunnel: no ground to judge by
				continue
			}
			if out[kind] == nil {
				out[kind] = &endFigures{}
			}
			f, offM, boundM := out[kind], p.ElevationM[c.end]-rc.truth[k], p.ElevationErrM(float64(c.end)*p.StepM)
			f.offM, f.groundM, f.boundM = append(f.offM, offM), append(f.groundM, p.GroundM[c.end]-rc.truth[k]), append(f.boundM, boundM)
			if math.Abs(offM) <= boundM {
				f.within++
			}
		}
	}
}

// What crest_elevation_err_m and foot_elevation_err_m say at a line's end holds in 95 of 100, at 90 m
// cells, where the error is greatest; BenchmarkLineEnds has the other cell sizes.
func TestHeightsAtALinesEndAreWithinTheirBounds(t *testing.T) {
	out := map[string]*endFigures{}
	for _, seed := range synth.Tuning[:14] {
		lineEnds(t, synth.Options{Seed: seed, CellM: 90, LengthM: 9000}, out)
	}
	all, within := 0, 0
	for _, kind := range endKinds {
		all, within = all+len(out[kind].offM), within+out[kind].within
	}
	if all < 60 || float64(within) < .95*float64(all) {
		t.Errorf("%d of %d heights are within their bounds, want 95 of 100", within, all)
	}
}

// BenchmarkLineEnds prints the errors of the heights at the ends of drawn roads, and how often their
// bounds hold.
func BenchmarkLineEnds(b *testing.B) {
	for b.Loop() {
		for _, cellM := range []float64{10, 30, 90} {
			out := map[string]*endFigures{}
			for i := range *endsRoads {
				lineEnds(b, synth.Options{Seed: *endsFrom + uint64(i), CellM: cellM, LengthM: 9000}, out)
			}
			for _, kind := range endKinds {
				f := out[kind]
				meanOf := func(v []float64) (mean, rms float64) {
					for _, x := range v {
						mean, rms = mean+x/float64(len(v)), rms+x*x/float64(len(v))
					}
					return mean, math.Sqrt(rms)
				}
				mean, rms := meanOf(f.offM)
				groundMean, groundRMS := meanOf(f.groundM)
				bound, _ := meanOf(f.boundM)
				fmt.Printf("%g m cells, %s: %d ends, mean %.1f rms %.1f m (ground %.1f, %.1f), within ± %.1f: %.3f\n", cellM, kind, len(f.offM), mean, rms, groundMean, groundRMS, bound, float64(f.within)/float64(len(f.offM)))
			}
		}
	}
}
