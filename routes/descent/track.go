package descent

import (
	"math"

	"gradeline/routes"
)

// track is an unbroken stretch of a profile on even stations of about 10 m, in
// travel order.
type track struct {
	p       *routes.Profile
	dir     routes.Direction
	stepM   float64
	firstM  float64   // station on the route of index 0
	heightM []float64 // in travel order, no NaN
}

// tracks splits the profile at gaps of the grade line.
func tracks(p *routes.Profile, dir routes.Direction) []track {
	n := int(math.Max(1, math.Round(p.LengthM/gridM)))
	if p.Count() < 2 || !(p.LengthM > 0) {
		return nil
	}
	stepM := p.LengthM / float64(n)
	h := make([]float64, n+1)
	for i := range h {
		h[i] = p.ElevationAtM(math.Min(float64(i)*stepM, p.LengthM))
	}
	var out []track
	for from := 0; from <= n; {
		if math.IsNaN(h[from]) {
			from++
			continue
		}
		to := from
		for to <= n && !math.IsNaN(h[to]) {
			to++
		}
		if to-from >= 2 {
			out = append(out, newTrack(p, dir, stepM, from, h[from:to]))
		}
		from = to
	}
	if dir == routes.Backward {
		for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
			out[i], out[j] = out[j], out[i]
		}
	}
	return out
}

func newTrack(p *routes.Profile, dir routes.Direction, stepM float64, first int, h []float64) track {
	t := track{p: p, dir: dir, stepM: stepM, firstM: float64(first) * stepM, heightM: h}
	if dir == routes.Backward {
		r := make([]float64, len(h))
		for i, v := range h {
			r[len(h)-1-i] = v
		}
		t.heightM = r
		t.firstM = float64(first+len(h)-1) * stepM
	}
	return t
}

// stationM is the station on the route of a travel index.
func (t *track) stationM(i int) float64 {
	if t.dir == routes.Backward {
		return math.Max(0, t.firstM-float64(i)*t.stepM)
	}
	return math.Min(t.p.LengthM, t.firstM+float64(i)*t.stepM)
}

// score is the drop in excess of a grade, metres, for each interval in travel.
func (t *track) score(gradePct float64) []float64 {
	s := make([]float64, len(t.heightM)-1)
	for i := range s {
		s[i] = t.heightM[i] - t.heightM[i+1] - gradePct/100*t.stepM
	}
	return s
}

func (t *track) lengthM(s span) float64 { return float64(s.to-s.from) * t.stepM }

func (t *track) dropM(s span) float64 { return t.heightM[s.from] - t.heightM[s.to] }

func (t *track) meanPct(s span) float64 { return 100 * t.dropM(s) / t.lengthM(s) }

func (t *track) qualifies(s span, o Options) bool {
	// The slack keeps rounding error from deciding.
	return t.lengthM(s) >= o.MinLengthM-1e-6 && t.meanPct(s) >= o.MinMeanPct-1e-9
}
