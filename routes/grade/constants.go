package grade

import (
	"math"

	"gradeline/routes"
)

// Priors of the ground's error along a road, by cell size. Both come from the total
// error (terrain averaging, shift of the line, noise) on synthetic roads without
// structures: sd .13/1.0/2.65/4.8 m with correlation lengths 55/97/243/395 m at
// 1/10/30/90 m cells. Computed, not published.
const (
	fineSigmaM     = 0.15 // at 1 m cells
	fineSigmaPow   = 0.8
	coarseSigmaPow = 0.73
	coarseFromM    = 10.0
	tauAtOneM      = 60.0
	tauPow         = 0.37
	// sigmaFloorM keeps the robust threshold above the effect of a road's own cross-fall and
	// culverts on fine terrain.
	sigmaFloorM = 0.3
)

// Geometry of built roads.
const (
	defaultMaxGradePct = 15.0  // steeper public truck roads are not built; AASHTO's steepest local-road table ends at 15-16 % (from memory)
	minVertRadiusM     = 200.0 // K = 2: tighter than any crest at 40 km/h (K 4, from memory), so it excludes only impossible curves
	slopePrior         = 0.05  // sd of a tangent's grade in the segmentation
)

// Lengths.
const (
	extrapolateMaxM   = 300.0 // beyond this from measured ground, at the ends, the grade line is NaN
	structureDilateM  = 5.0   // flags are widened by this or a cell, whichever is larger
	minimumSamples    = 3
	flatFirstMaxCellM = 3.0
	lateralMaxCellM   = 15.0 // above, the search gains nothing (30/90 m: 0)
	lateralPilotStiff = 250.0
)

// Segmentation (skip.go).
const (
	knotM        = 100.0 // 50/100/400 m: RMSE at 30 m 1.175/1.175/1.176, time a third less at 100
	longestM     = 12500.0
	segBeta      = 7.0
	skipExtra    = 15.0
	skipKappa    = 5.5   // a skipped sample costs as much as a residual of 5.5 s
	skipFullM    = 400.0 // full cost up to here, then by the saturation
	segMinSDM    = 0.45
	segSDFactor  = 1.2
	segCorrM     = 60.0 // one independent residual each
	keepPerKnot  = 4    // 10/6/4/3: no change of RMSE in three decimals, time -40 %
	envelopeGrid = 16   // 48/16: no change
)

// Fused fit (fit.go). Figures are grade RMSE in points on the tuning roads. One constant was
// varied, the others had their values of that time: compare only within a line.
const (
	lambdaFactor  = 100.0 // 60/100 at power .9: RMSE 10/30/90 m .471/.775/1.030 and .508/.758/1.077
	lambdaPow     = 0.9   // trend filtering's minimax rate is .8; .93 gave 1.152 at 90 m, .9 1.077
	jerkLengthM   = 50.0  // weight of |D3| against |D2|; 30/100/300 m: RMSE 10 m .462/.508/.619, 30 m .753/.758/.821, 90 m 1.034/1.077/1.179
	eps1          = 1e-3
	eps2          = 2e-5
	eps3          = 4e-6
	epsStart      = 30.0
	epsFall       = 0.75
	gmStart       = 8.0
	gmEnd         = 3.5 // 2/3/4: RMSE 10 m .597/.508/.486, 90 m 1.155/1.077/1.066; 5 loses a tunnel at 90 m (1.35)
	gmFall        = 0.8
	curveBound    = 50.0
	gradeBoundM   = 300.0
	proximal      = 1e-13
	proximalRaise = 30.0
	quadraticPerM = 1000.0 // quadratic fit: as stiff as the absolute one at a vertical radius of 2 km
	maxIterations = 40
	stopSigma     = 0.002
)

// sigmaFromCell is the prior sd of ground heights along a road, metres.
func sigmaFromCell(cellM float64) float64 {
	if cellM < coarseFromM {
		return fineSigmaM * math.Pow(max(cellM, 0.25), fineSigmaPow)
	}
	return math.Pow(cellM/coarseFromM, coarseSigmaPow)
}

// tauFromCell is the prior correlation length of that error, metres.
func tauFromCell(cellM float64) float64 {
	return tauAtOneM * math.Pow(max(cellM, 0.25), tauPow)
}

// NoiseOf is the error of ground heights of a cell size with a known standard deviation; the usual
// one where that is not known.
func NoiseOf(cellM, sigmaM float64) routes.Noise {
	if !(sigmaM > 0) {
		sigmaM = sigmaFromCell(cellM)
	}
	return routes.Noise{SigmaM: sigmaM, TauM: tauFromCell(cellM)}
}

// lambdaFromNoise is the smoothing constant of the fused fit, m³.
func lambdaFromNoise(sigmaM, tauM float64) float64 {
	return lambdaFactor * math.Pow(sigmaM*sigmaM*tauM, lambdaPow)
}

// Starts (recover.go).
const (
	surfaceAsymmetry = 0.6 // 30 m with canopy on 30 % of the length: F1 .805 -> .844
	saturationLow    = 0.4
	saturationLower  = 0.15 // RMSE of 300 roads without tags, 10/30 m: .67/.87 with .01, .51/.85 with .15; both no better
	wideStartM       = 100.0
	wideFall         = 0.6
)

// roughFromCell is the departure from a flat cross-section at which a station's
// weight falls to a quarter.
func roughFromCell(cellM float64) float64 {
	if cellM <= flatFirstMaxCellM {
		return roughFineM
	}
	return roughCoarseM
}

const roughFineM, roughCoarseM = 0.2, 1.0 // 10 m: RMSE .446/.425/.414/.412 for .3/.5/1/3

// Steep grades: above softGrade a metre of road costs softCost per unit of grade, in units of one
// independent residual. 0/1/10: RMSE 1 m .191/.185/.146. But at 5 and 10 long clean hills of 11.5
// and 14 % were read as structures, so it is never above 1 (TestALongSteepHillIsNoStructure).
const (
	softGrade = 0.10
	softCost  = 1.0
)

// softPerStation is that cost in the fit's unit, square metres.
func softPerStation(p *problem) float64 {
	s := max(segMinSDM, segSDFactor*p.sigmaM)
	return softCost * s * s * max(1, segCorrM/p.stepM)
}

// A stretch whose cross-sections are rougher than benchRunTimes the route's own
// median has no bench: bridge, tunnel, or a line next to the road.
const (
	benchRunM      = 75  // each way
	benchRunTimes  = 1.2 // up to 3 m cells; RMSE at 1 m .139/.185/.380 for 1/2/4
	benchRunCoarse = 8.0 // above; RMSE at 10 m .660/.466/.432 for 1/2/4
	benchLeastM    = 0.04
)
