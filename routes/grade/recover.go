// Package grade recovers a road's grade line from noisy ground heights along and across it. It
// separates the road from bridges, tunnels, voids, trees and a line that is drawn next to the road.
//
// The input is a routes.Ground, and for Fuse recorded drives. The output is a
// routes.Profile: a height in metres for each station, NaN where nothing is known, a
// state for each, and the 95 % bounds as functions of length (Bound, and MeanErrPct of
// the Profile, in points of grade). Reliable is false for a Profile that does not
// follow a road; a stretch that heights alone cannot decide is in Doubtful. Errors are
// *routes.Fault: ErrVoid for fewer than three stations with ground, ErrInput for ground
// that does not fit together. The bounds were measured at cells of 1 to 90 m
// (ACCURACY.md); ground on which no road has been built yet is not noticed. All
// functions are safe for concurrent use.
package grade

import (
	"context"
	"math"
	"sync"

	"gradeline/routes"
	"gradeline/terrain"
)

// Options describes the heights. The zero value is right for terrain models.
type Options struct {
	SurfaceModel bool    // trees and roofs in the heights: those above the line count less
	AccuracyM    float64 // stated vertical accuracy (one standard deviation), 0 = from the cell size
	MaxGradePct  float64 // steepest grade a road has; 0 = 15

	// To measure the effect of each part.
	NoLateral, NoSkip, NoSplice bool
}

// recoverer is the workspace of one recovery.
type recoverer struct {
	sec   section
	p     problem
	skip  skipper
	fit   fitter
	lat   lateral
	index []int32
	x, w  []float64
	alt   []float64
	altW  []float64
	buf   []float64
	joint []float64
	rough []float64 // how far each cross-section is from a road's, metres
	runs  []run
}

var pool = sync.Pool{New: func() any { return new(recoverer) }}

// Recover returns the road's grade line, forward along the route.
//
// Stations without ground, on a flagged structure, or whose ground is not the road's are
// interpolated; their State says so. At the ends the grade line continues past the last measured
// station for at most 300 m; beyond that ElevationM is NaN. Fewer than three measured stations are
// a fault.
func Recover(ctx context.Context, g *routes.Ground, o Options) (*routes.Profile, error) {
	r := pool.Get().(*recoverer)
	defer pool.Put(r)
	if err := r.sec.sectionFromGround(g); err != nil {
		return nil, err
	}
	r.begin(g, o)
	if err := r.checkSamples(); err != nil {
		return nil, err
	}
	if err := r.align(ctx, o); err != nil {
		return nil, err
	}
	ratio := r.noise(o)
	if err := r.finalFit(ctx, o); err != nil {
		return nil, err
	}
	return r.profile(g, ratio), nil
}

// begin sizes the workspace and sets the problem on the drawn line.
func (r *recoverer) begin(g *routes.Ground, o Options) {
	n := r.sec.n
	p := &r.p
	p.n, p.stepM, p.cellM = n, r.sec.stepM, r.sec.cellM
	p.rel, p.unblurred = r.sec.rel, r.sec.blurred
	p.sigmaM, p.tauM = sigmaFromCell(p.cellM), tauFromCell(p.cellM)
	if o.AccuracyM > 0 {
		p.sigmaM = o.AccuracyM
	}
	p.maxRise = defaultMaxGradePct / 100
	if o.MaxGradePct > 0 {
		p.maxRise = o.MaxGradePct / 100
	}
	p.asym = 1
	if o.SurfaceModel || g.SurfaceModel {
		p.asym = surfaceAsymmetry
	}
	for _, s := range []*[]float64{&p.y, &p.w, &r.x, &r.w, &r.alt, &r.altW, &r.buf, &r.joint, &r.rough} {
		*s = sized(*s, n)
	}
	if cap(r.index) < n {
		r.index = make([]int32, n+n/4)
	}
	r.index = r.index[:n]
	for i := range r.index {
		r.index[i] = int32(r.sec.mid)
	}
	r.sec.heightsAt(p, r.index, nil)
}

func (r *recoverer) checkSamples() error {
	if samples(r.p.w) >= minimumSamples {
		return nil
	}
	return &routes.Fault{Kind: terrain.ErrVoid, What: "fewer than 3 stations have ground under the road",
		Fix: "use terrain that covers the road, or flag fewer structures"}
}

// start sets x and w by the segmentation, or flat where it is switched off.
func (r *recoverer) start(o Options, saturation float64, x, w []float64) {
	if !o.NoSkip {
		r.skip.segment(&r.p, x, w, saturation)
		return
	}
	copy(w, r.p.w)
	r.stiff(x, w)
}

// stiff is the quadratic fit that starts from a wide threshold, which narrows step by step.
func (r *recoverer) stiff(x, w []float64) {
	for i := range x {
		x[i] = 0
	}
	wide := wideStartM / max(r.p.sigmaM, sigmaFloorM)
	r.fit.run(&r.p, x, w, shape{lambda: lambdaFromNoise(r.p.sigmaM, r.p.tauM), quadratic: true,
		gmFrom: max(gmStart, wide), gmTo: gmEnd, gmFall: wideFall, iter: maxIterations, warm: true})
}

// align finds the drawn line's offset from the road, in two rounds with stiff pilot lines.
func (r *recoverer) align(ctx context.Context, o Options) error {
	if o.NoLateral || r.sec.cols < 3 || r.p.cellM > lateralMaxCellM {
		return ctx.Err()
	}
	lambda := max(lambdaFromNoise(r.p.sigmaM, r.p.tauM), lateralPilotStiff)
	r.lat.flatten(&r.sec)
	if r.p.cellM <= flatFirstMaxCellM { // the bench itself is visible, so the offset comes first
		r.lat.path(&r.sec, &r.p, nil, r.index, r.rough)
		r.sec.heightsAt(&r.p, r.index, r.rough)
	}
	for round := 0; round < 2; round++ {
		r.start(o, saturationLow, r.x, r.w)
		r.fit.run(&r.p, r.x, r.w, shape{lambda: lambda, gmFrom: gmStart, gmTo: gmEnd, gmFall: gmFall, iter: maxIterations})
		if err := ctx.Err(); err != nil {
			return err
		}
		r.lat.path(&r.sec, &r.p, r.x, r.index, r.rough)
		r.sec.heightsAt(&r.p, r.index, r.rough)
	}
	return nil
}

// noise estimates the sd from local quadratics. The residuals of one fit show how far the ground is
// from a road, and replace the quadratics on short or broken ground.
func (r *recoverer) noise(o Options) float64 {
	r.start(o, saturationLow, r.x, r.w)
	r.fit.run(&r.p, r.x, r.w, r.normal())
	s, ratio := noiseFromResiduals(&r.p, r.x, r.w, r.buf)
	t := tauFromCell(r.p.cellM)
	if q, _ := localRatio(&r.p, r.buf); !math.IsNaN(q) {
		s = max(localLow(r.p.cellM), min(localHigh, q)) * sigmaFromCell(r.p.cellM)
	} else {
		t = tauFromResiduals(&r.p, r.x, r.w, ratio*r.p.sigmaM)
	}
	if o.AccuracyM > 0 {
		s = o.AccuracyM
	}
	if usual := sigmaFromCell(r.p.cellM); r.p.sigmaM < usual { // by the stated accuracy
		ratio *= r.p.sigmaM / usual
	}
	r.p.sigmaM, r.p.tauM = s, t
	return ratio
}

func (r *recoverer) lambda() float64 { return lambdaFromNoise(r.p.sigmaM, r.p.tauM) }

func (r *recoverer) normal() shape {
	return shape{lambda: r.lambda(), gmFrom: gmStart, gmTo: gmEnd, gmFall: gmFall, iter: maxIterations}
}

// finalFit makes the final fit: several starts spliced by energy, then the
// structures found masked.
func (r *recoverer) finalFit(ctx context.Context, o Options) error {
	if err := r.fromStart(ctx, o, saturationLow, r.x, r.w); err != nil {
		return err
	}
	if !o.NoSplice {
		if err := r.otherStarts(ctx, o); err != nil {
			return err
		}
	}
	r.runs = found(&r.p, r.x, r.runs)
	copy(r.w, r.p.w)
	for _, u := range r.runs {
		for i := u.first; i <= u.last; i++ {
			r.w[i] = 0
		}
	}
	r.fit.run(&r.p, r.x, r.w, r.last())
	r.ease()
	return ctx.Err()
}

// fromStart fits from a segmentation: first without the skipped samples, then with all. Otherwise
// ground between two structures that were skipped as one would be lost.
func (r *recoverer) fromStart(ctx context.Context, o Options, saturation float64, x, w []float64) error {
	r.start(o, saturation, x, w)
	r.fit.run(&r.p, x, w, r.normal())
	r.fit.run(&r.p, x, r.p.w, r.last())
	return ctx.Err()
}

// last is the shape of a fit near its answer.
func (r *recoverer) last() shape {
	s := r.normal()
	s.gmFrom, s.warm = gmEnd, true
	return s
}

// otherStarts splices in the results from two other starts: a segmentation with cheaper long skips,
// and the stiff fit.
func (r *recoverer) otherStarts(ctx context.Context, o Options) error {
	if !o.NoSkip {
		if err := r.fromStart(ctx, o, saturationLower, r.alt, r.altW); err != nil {
			return err
		}
		splice(&r.p, r.x, r.alt, r.joint, r.lambda())
	}
	r.stiff(r.alt, r.p.w)
	splice(&r.p, r.x, r.alt, r.joint, r.lambda())
	r.fit.run(&r.p, r.x, r.p.w, r.last())
	return ctx.Err()
}
