package synth

import (
	"math"

	"gradeline/terrain"
)

// chordM is the chord error that digitised lines are thinned to.
const chordM = 1.5

// truthStepM is the spacing of the truth along the digitised line.
const truthStepM = 5.0

// flagErrM is the largest error of a tagged structure's ends.
const flagErrM = 8.0

// digitise makes the line as a user would have it, with its errors, and maps the truth onto it.
func (r *Road) digitise(p params) {
	a := r.align
	d := newDice(r.options.Seed, streamLine)
	wander := newField(d, newNormals(d), 180)
	// 40 % of the variance is a constant shift, as from a badly placed layer
	shift := clamp(d.NormFloat64(), -1.8, 1.8) * p.lateralM * math.Sqrt(0.4)
	lx, ly := make([]float64, len(a.x)), make([]float64, len(a.x))
	for i := range a.x {
		o := clamp(shift+p.lateralM*math.Sqrt(0.6)*wander.along(a.s[i]), -2.3*p.lateralM, 2.3*p.lateralM) + r.options.LateralConstM
		if o*a.k[i] > 0 { // inside a curve it cannot pass the centre
			o = math.Copysign(math.Min(math.Abs(o), 0.6/math.Abs(a.k[i])), o)
		}
		rx, ry := a.rightOf(i)
		lx[i], ly[i] = a.x[i]+o*rx, a.y[i]+o*ry
	}
	keep := thin(lx, ly, chordM)
	if r.options.VertexEveryM > 0 {
		keep = generalise(lx, ly, r.options.VertexEveryM)
	}
	vx, vy := make([]float64, len(keep)), make([]float64, len(keep))
	r.Line = make([]terrain.Point, len(keep))
	for i, k := range keep {
		vx[i], vy[i] = lx[k], ly[k]
		lon, lat := r.proj.lonLatFromXY(vx[i], vy[i])
		r.Line[i] = terrain.Point{LonDeg: lon, LatDeg: lat}
	}
	r.lineX, r.lineY = vx, vy
	r.mapTruth(vx, vy)
	for i, part := range a.profile.isPart {
		from, to := a.profile.pviM[i], math.Min(a.profile.pviM[i+1], a.lengthM())
		if part && from < to {
			onLine := func(s float64) float64 {
				return r.lineFromRoadM(clamp(s, r.TruthRoadM[0], r.TruthRoadM[len(r.TruthRoadM)-1]))
			}
			r.Parts = append(r.Parts, Part{FromM: onLine(from), ToM: onLine(to), GradePct: a.profile.gradeP[i]})
		}
	}
	for _, s := range a.structures {
		st := Structure{Kind: "bridge", DepartureM: s.departureM,
			FromM: r.lineFromRoadM(s.from), ToM: r.lineFromRoadM(s.to)}
		if s.tunnel {
			st.Kind = "tunnel"
		}
		// every draw is made, used or not, so that a share changes only flags
		chance, e0, e1 := d.Float64(), d.between(-flagErrM, flagErrM), d.between(-flagErrM, flagErrM)
		if chance >= p.unflagged {
			st.Flagged = true
			st.FlagFromM, st.FlagToM = math.Max(0, st.FromM+e0), math.Min(r.LengthM, st.ToM+e1)
		}
		r.Structures = append(r.Structures, st)
	}
}

// thin is Douglas and Peucker's line simplification; it returns the kept indices.
func thin(x, y []float64, tolM float64) []int {
	keep := make([]bool, len(x))
	keep[0], keep[len(x)-1] = true, true
	stack := [][2]int{{0, len(x) - 1}}
	for len(stack) > 0 {
		a, b := stack[len(stack)-1][0], stack[len(stack)-1][1]
		stack = stack[:len(stack)-1]
		far, at := 0.0, -1
		for i := a + 1; i < b; i++ {
			if d, _ := segmentDist(x[i], y[i], x[a], y[a], x[b], y[b]); d > far {
				far, at = d, i
			}
		}
		if at >= 0 && far > tolM {
			keep[at] = true
			stack = append(stack, [2]int{a, at}, [2]int{at, b})
		}
	}
	var out []int
	for i, k := range keep {
		if k {
			out = append(out, i)
		}
	}
	return out
}

func segmentDist(px, py, ax, ay, bx, by float64) (d, t float64) {
	dx, dy := bx-ax, by-ay
	if l2 := dx*dx + dy*dy; l2 > 0 {
		t = clamp(((px-ax)*dx+(py-ay)*dy)/l2, 0, 1)
	}
	return math.Hypot(px-ax-t*dx, py-ay-t*dy), t
}

// lineFromRoadM is the inverse of RoadFromLineM.
func (r *Road) lineFromRoadM(roadM float64) float64 {
	return interp(r.TruthRoadM, r.TruthStationM, roadM)
}

// mapTruth fills in the truth by station of the digitised line; places on the road never fall.
func (r *Road) mapTruth(vx, vy []float64) {
	a := r.align
	st := make([]float64, len(vx))
	for i := 1; i < len(vx); i++ {
		st[i] = st[i-1] + math.Hypot(vx[i]-vx[i-1], vy[i]-vy[i-1])
	}
	r.LengthM, r.lineM = st[len(st)-1], st
	n := int(math.Ceil(r.LengthM/truthStepM)) + 1
	at, seg := 0, 0
	for k := 0; k < n; k++ {
		u := math.Min(float64(k)*truthStepM, r.LengthM)
		for seg < len(st)-2 && st[seg+1] < u {
			seg++
		}
		t := (u - st[seg]) / (st[seg+1] - st[seg])
		px, py := vx[seg]+t*(vx[seg+1]-vx[seg]), vy[seg]+t*(vy[seg+1]-vy[seg])
		best, bi, bt := math.Inf(1), at, 0.0
		for i := max(0, at-8); i < min(len(a.x)-1, at+16); i++ {
			if d, t := segmentDist(px, py, a.x[i], a.y[i], a.x[i+1], a.y[i+1]); d < best {
				best, bi, bt = d, i, t
			}
		}
		at = bi
		s := a.s[bi] + bt*(a.s[bi+1]-a.s[bi])
		if k > 0 {
			s = math.Max(s, r.TruthRoadM[k-1])
		}
		r.TruthRoadM = append(r.TruthRoadM, s)
		z, _ := a.profile.heightAt(s)
		// right of the digitised line's direction
		dx, dy := vx[seg+1]-vx[seg], vy[seg+1]-vy[seg]
		cx, cy := a.x[bi]+bt*(a.x[bi+1]-a.x[bi]), a.y[bi]+bt*(a.y[bi+1]-a.y[bi])
		side := math.Copysign(best, (cx-px)*dy-(cy-py)*dx)
		r.TruthStationM = append(r.TruthStationM, u)
		r.TruthElevationM = append(r.TruthElevationM, z)
		r.TruthOffsetM = append(r.TruthOffsetM, side)
	}
}
