package synth

import (
	"math"
	"testing"
)

// The truth keeps the design limits it was drawn by, checked on the heights
// themselves: grades, and the curvature of vertical curves.
func TestTruthKeepsDesignLimits(t *testing.T) {
	for _, seed := range Tuning {
		drawn := drawParams(Options{Seed: seed})
		a := drawAlignment(seed, drawn)
		p := a.profile
		k := kTable[int(drawn.speedKMH)]
		limit := 9.0
		if drawn.speedKMH >= 90 {
			limit = 6
		}
		for s := 20.0; s < a.lengthM()-20; s += 10 {
			zl, _ := p.heightAt(s - 10)
			z, g := p.heightAt(s)
			zr, _ := p.heightAt(s + 10)
			if math.Abs(g) > limit+1e-9 || math.Abs((zr-zl)/20*100) > limit+1e-9 {
				t.Fatalf("seed %d at %g m: grade %.3f %%", seed, s, g)
			}
			// z'' is a grade change of A per L = K·A metres: 1/(100 K) per metre
			curv := (zr - 2*z + zl) / 100 * 100
			if curv > 1/k.sag+1e-9 || -curv > 1/k.crest+1e-9 {
				t.Fatalf("seed %d at %g m: K is %.2f, least is %v", seed, s, 1/math.Abs(curv), k)
			}
		}
		for i := 1; i < len(p.gradeP)-1; i++ {
			if (p.curveM[i]+p.curveM[i+1])/2 > p.pviM[i+1]-p.pviM[i]+1e-6 {
				t.Fatalf("seed %d: curves overlap at PVI %d", seed, i)
			}
		}
		least := float64(minRadiusM[int(drawn.speedKMH)])
		if drawn.speedKMH <= 60 {
			least = 28
		}
		for i, c := range a.k {
			if math.Abs(c) > 1/least*(1+1e-9) {
				t.Fatalf("seed %d point %d: radius %.1f m, least %.0f m", seed, i, 1/math.Abs(c), least)
			}
		}
	}
}

// The drop is the integral of the grade, and the elevation the sum of tangents.
func TestDropIsTheSumOfGrades(t *testing.T) {
	r := road(t, Options{Seed: Tuning[5]})
	p := r.align.profile
	l := r.align.lengthM()
	sum := 0.0
	const ds = 0.5
	for s := ds / 2; s < l; s += ds {
		_, g := p.heightAt(s)
		sum += g / 100 * math.Min(ds, l-s+ds/2)
	}
	z0, _ := p.heightAt(0)
	z1, _ := p.heightAt(l)
	if math.Abs(z1-z0-sum) > 0.02 {
		t.Errorf("drop %.3f m, integral of the grade %.3f m", z0-z1, -sum)
	}
	n := len(r.TruthElevationM) - 1
	if math.Abs(r.TruthElevationM[0]-z0) > 1 || math.Abs(r.TruthElevationM[n]-z1) > 1 {
		t.Errorf("truth ends at %.2f and %.2f, profile at %.2f and %.2f", r.TruthElevationM[0], r.TruthElevationM[n], z0, z1)
	}
}

// The truth at a station is the height of the nearest place of the centre line,
// found here by brute force; hairpins excepted, where a nearer leg may be met.
func TestTruthIsTheNearestPlace(t *testing.T) {
	r := road(t, Options{Seed: Tuning[6], DesignSpeedKMH: 70})
	x, y, st := planLine(r)
	a := r.align
	for k := 0; k < len(r.TruthStationM); k += 37 {
		u := r.TruthStationM[k]
		px, py := interp(st, x, u), interp(st, y, u)
		best, bs := math.Inf(1), 0.0
		for i := 0; i+1 < len(a.x); i++ {
			if d, f := segmentDist(px, py, a.x[i], a.y[i], a.x[i+1], a.y[i+1]); d < best {
				best, bs = d, a.s[i]+f*(a.s[i+1]-a.s[i])
			}
		}
		z, _ := a.profile.heightAt(bs)
		if math.Abs(z-r.TruthElevationM[k]) > 0.02 || math.Abs(math.Abs(r.TruthOffsetM[k])-best) > 0.05 {
			t.Errorf("station %.0f m: truth %.3f m at offset %.2f m, nearest place %.3f m at %.2f m",
				u, r.TruthElevationM[k], r.TruthOffsetM[k], z, best)
		}
	}
}

// The offset's sign is right positive: moving the line 3 m right moves the true
// centre 3 m left of it.
func TestOffsetSign(t *testing.T) {
	o := Options{Seed: Tuning[7], LengthM: 3000, LateralRMSM: 1, DesignSpeedKMH: 100, LateralConstM: 6}
	r := road(t, o)
	mean := 0.0
	for _, v := range r.TruthOffsetM {
		mean += v / float64(len(r.TruthOffsetM))
	}
	if mean > -3.5 || mean < -8.5 {
		t.Errorf("line moved 6 m right, true centre %.2f m from it", mean)
	}
}

func planLine(r *Road) (x, y, st []float64) {
	for i, p := range r.Line {
		px, py := r.XYFromPoint(p)
		if i == 0 {
			st = append(st, 0)
		} else {
			st = append(st, st[i-1]+math.Hypot(px-x[i-1], py-y[i-1]))
		}
		x, y = append(x, px), append(y, py)
	}
	return x, y, st
}

// Structures lie inside the line, apart, with the ground away from the road in
// the middle; tags are within 8 m and on about half.
func TestStructures(t *testing.T) {
	flagged, all, km := 0, 0, 0.0
	for _, seed := range Tuning[:16] {
		r := road(t, Options{Seed: seed})
		km += r.LengthM / 1000
		for i, s := range r.Structures {
			all++
			if s.Flagged {
				flagged++
				if math.Abs(s.FlagFromM-s.FromM) > flagErrM || math.Abs(s.FlagToM-s.ToM) > flagErrM {
					t.Errorf("seed %d structure %d: tag off by more than %g m", seed, i, flagErrM)
				}
			}
			if s.FromM < 0 || s.ToM > r.LengthM || s.ToM-s.FromM < 15 || i > 0 && s.FromM < r.Structures[i-1].ToM+50 {
				t.Errorf("seed %d structure %d: %+v", seed, i, s)
			}
			if (s.Kind == "tunnel") != (s.DepartureM > 0) {
				t.Errorf("seed %d: %s with the ground %.1f m off", seed, s.Kind, s.DepartureM)
			}
			sp := r.align.structures[i]
			mid := interp(r.align.s, indices(len(r.align.s)), sp.from+(sp.to-sp.from)*math.Pow(0.5, 1/sp.skew))
			k := int(mid)
			near, _ := r.ground.index.candidates(r.align.x[k], r.align.y[k], 1, 50, nil)
			got := r.ground.valueAt(r.align.x[k], r.align.y[k], r.ground.micro, near) - r.align.z[k]
			if math.Abs(got-s.DepartureM) > 0.15*math.Abs(s.DepartureM)+11 { // cut and fill: up to 3.5 m sd
				t.Errorf("seed %d structure %d: ground is %.1f m off the road, want %.1f m", seed, i, got, s.DepartureM)
			}
		}
	}
	if share := float64(flagged) / float64(all); share < 0.35 || share > 0.65 {
		t.Errorf("%d of %d structures tagged", flagged, all)
	}
	if per := km / float64(all); per < 3 || per > 4.6 {
		t.Errorf("a structure each %.1f km", per)
	}
}

func indices(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = float64(i)
	}
	return v
}

// The plan turns as its curvature says: the circle through three points of an arc
// has its radius, and turns to its side.
func TestPlanHasItsCurvature(t *testing.T) {
	a := road(t, Options{Seed: Tuning[8], DesignSpeedKMH: 60}).align
	arcs := 0
	for i := 5; i < len(a.x)-5; i++ {
		if a.k[i] == 0 || a.k[i-5] != a.k[i] || a.k[i+5] != a.k[i] {
			continue
		}
		ax, ay, bx, by := a.x[i]-a.x[i-5], a.y[i]-a.y[i-5], a.x[i+5]-a.x[i], a.y[i+5]-a.y[i]
		cross := ax*by - ay*bx
		k := -2 * cross / (math.Hypot(ax, ay) * math.Hypot(bx, by) * math.Hypot(ax+bx, ay+by))
		if arcs++; math.Abs(k/a.k[i]-1) > 0.003 {
			t.Fatalf("point %d: curvature %.6f, drawn with %.6f", i, k, a.k[i])
		}
	}
	if arcs < 50 {
		t.Errorf("only %d points in arcs", arcs)
	}
}

// Places on the road follow each other, and the truth by the line's station is the road's height there.
// By the line's own length a grade is steeper inside a bend; on the road it keeps to its design.
func TestPlacesOnTheRoad(t *testing.T) {
	r := road(t, Options{Seed: 730100, Kind: ShortSteepParts})
	before, byLine, onRoad := 0.0, 0.0, 0.0
	for i, s := range r.TruthStationM {
		at := r.RoadFromLineM(s)
		if at < before || math.Abs(r.HeightOnRoadM(at)-r.TruthElevationM[i]) > 1e-6 {
			t.Fatalf("station %g m: %g m on the road after %g m, height %g m, truth %g m", s, at, before, r.HeightOnRoadM(at), r.TruthElevationM[i])
		}
		before = at
		if s >= 100 {
			byLine = math.Max(byLine, math.Abs(r.TruthElevationM[i]-r.TruthAtM(s-100)))
			onRoad = math.Max(onRoad, math.Abs(r.HeightOnRoadM(at)-r.HeightOnRoadM(at-100)))
		}
	}
	if onRoad > 13 || byLine < 15 {
		t.Errorf("steepest 100 m: %.1f %% on the road, 13 %% by design; %.1f %% by the line", onRoad, byLine)
	}
}
