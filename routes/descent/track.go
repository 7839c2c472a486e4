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
	easeM   []float64 // height of the less smoothed fit above them
	bareM   []float64 // length from index 0 without ground under it
}

// tracks splits the profile at gaps of the grade line.
func tracks(p *routes.Profile, dir routes.Direction) []track {
	n := int(max(1, math.Round(p.LengthM/gridM)))
	if p.Count() < 2 || !(p.LengthM > 0) {
		return nil
	}
	stepM := p.LengthM / float64(n)
	h := make([]float64, n+1)
	for i := range h {
		h[i] = p.ElevationAtM(min(float64(i)*stepM, p.LengthM))
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
	t.easeM, t.bareM = make([]float64, len(h)), make([]float64, len(h))
	for i := range h {
		t.easeM[i] = p.EaseAtM(t.stationM(i))
		if i > 0 {
			t.bareM[i] = t.bareM[i-1] + p.InterpolatedM(t.stationM(i-1), t.stationM(i))
		}
	}
	return t
}

// stationM is the station on the route of a travel index.
func (t *track) stationM(i int) float64 {
	if t.dir == routes.Backward {
		return max(0, t.firstM-float64(i)*t.stepM)
	}
	return min(t.p.LengthM, t.firstM+float64(i)*t.stepM)
}

// score is the drop in excess of a grade, metres, for each interval in travel.
func (t *track) score(gradePct float64) []float64 {
	return t.scoreWithin(span{0, len(t.heightM) - 1}, gradePct)
}

// scoreWithin is the same for the intervals of s.
func (t *track) scoreWithin(s span, gradePct float64) []float64 {
	out := make([]float64, s.to-s.from)
	for i := range out {
		out[i] = t.heightM[s.from+i] - t.heightM[s.from+i+1] - gradePct/100*t.stepM
	}
	return out
}

// stationBeyond is the station at a distance beyond an index in travel, within the track.
func (t *track) stationBeyond(i int, onM float64) float64 {
	last := float64(len(t.heightM) - 1)
	at := max(0, min(last, float64(i)+onM/t.stepM))
	lo := min(int(at), len(t.heightM)-2)
	return t.stationM(lo) + (at-float64(lo))*(t.stationM(lo+1)-t.stationM(lo))
}

func (t *track) lengthM(s span) float64 { return float64(s.to-s.from) * t.stepM }

func (t *track) dropM(s span) float64 { return t.heightM[s.from] - t.heightM[s.to] }

// easedPct is how much smoothing flattened the mean downgrade of s, points of per cent.
func (t *track) easedPct(s span) float64 {
	return 100 * (t.easeM[s.from] - t.easeM[s.to]) / t.lengthM(s)
}

// shortErrPct is the 95 % half-width of the mean downgrade of a short part.
func (t *track) shortErrPct(s span) float64 {
	return t.p.ShortErrPct(t.stationM(s.from), t.stationM(s.to), t.bareM[s.to]-t.bareM[s.from], t.easedPct(s))
}

func (t *track) meanPct(s span) float64 { return 100 * t.dropM(s) / t.lengthM(s) }

func (t *track) qualifies(s span, o Options) bool {
	// The slack keeps rounding error from deciding.
	return t.lengthM(s) >= o.MinLengthM-1e-6 && t.meanPct(s) >= o.MinMeanPct-1e-9
}
