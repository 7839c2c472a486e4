package grade

import "math"

// A penalty on the grade's change pulls every fit toward even grades. A part that is steep for some
// hundred metres comes out too gentle, by more than the uncertainty from noise: parts of 9 and 12
// %, 800 and 1,500 m long, by .06, .35, .95 and 1.78 points at 1, 10, 30 and 90 m cells
// (TestBoundsHoldOnASteepPart). A second fit shows most of this error: it smooths less, and its
// residuals are added back once, as in Bregman iteration (Osher and others, Multiscale Model.
// Simul. 4, 2005, from memory). It is too rough for a grade line; its difference from the first
// widens the bounds.
const (
	easeSmooth = 0.3 // of lambda; .15/.5 show more/less of it and are rougher/smoother
	easeShare  = 1.5 // of the difference; with 1 the bounds of TestBoundsHoldOnASteepPart hold in .95/.73/.80/.88
	easeWide   = 1e3 // sigmas: found structures are masked already
	easeSteps  = 10  // of a fit; 40 takes three times as long and changes no figure by .02
)

// ease sets alt to the fit with less smoothing.
func (r *recoverer) ease() {
	copy(r.alt, r.x)
	s := r.last()
	s.lambda *= easeSmooth
	s.gmFrom, s.gmTo, s.bare, s.iter = easeWide, easeWide, true, easeSteps
	r.fit.run(&r.p, r.alt, r.w, s)
	y := r.p.y
	back := r.buf[:r.p.n]
	for i, v := range y {
		back[i] = v + v - r.alt[i]
	}
	r.p.y = back
	r.fit.run(&r.p, r.alt, r.w, s)
	r.p.y = y
	r.easeLineEnds()
}

// easeM is the least length over which the two fits are compared: 300 m at 1 m cells, and 800 m,
// the shortest descent, from 50 m cells on. Over less they differ by noise as well, and the worst
// of a long hill's hundred pieces would set its speed. At 10 m cells the worst within 5 km is 2.8
// points over 100 m, .6 over 500, .4 over 800; at 30 m 5.6, 1.9 and 1.0 (medians of 60 synthetic
// roads).
func easeM(cellM float64) float64 {
	return max(200, min(800, 300*math.Pow(cellM, 0.25)))
}
