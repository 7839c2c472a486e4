package synth

import (
	"math"
	"math/rand/v2"
)

// Streams separate the draws for different purposes, so that an option changes only the property
// that it names.
const (
	streamParams uint64 = iota + 0x5eed
	streamPlan
	streamProfile
	streamStructures
	streamTerrain
	streamLine
	streamRaster
	streamVoids
	streamDemo
	streamKind
	streamDrive   // the first of one stream for each drive
	streamWeather = streamDrive ^ 1<<62
)

type dice struct{ *rand.Rand }

func newDice(seed, stream uint64) dice { return dice{rand.New(rand.NewPCG(seed, stream))} }

func (d dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }

func (d dice) logBetween(lo, hi float64) float64 {
	return lo * math.Exp(d.Float64()*math.Log(hi/lo))
}

// logNormal draws around a median, cut to [lo, hi].
func (d dice) logNormal(median, sigma, lo, hi float64) float64 {
	return clamp(median*math.Exp(sigma*d.NormFloat64()), lo, hi)
}

func (d dice) sign() float64 {
	if d.Float64() < 0.5 {
		return -1
	}
	return 1
}

func clamp(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }

// params are the figures of one road, drawn or from Options.
type params struct {
	lon0Deg, lat0Deg float64
	lengthM          float64
	speedKMH         float64
	benchM           float64
	lateralM         float64
	maxGradePct      float64
	structuresPerM   float64
	unflagged        float64
	flat             bool
	kind             Kind
	terrain          terrainParams
}

// terrainParams describe the ground away from and next to the road.
type terrainParams struct {
	slopeRMS  float64 // rms gradient of the relief above 100 m
	hurst     float64 // exponent of the relief's amplitude by wavelength
	microRMS  float64 // rms gradient of each octave of the micro-relief
	cutFillM  float64 // sd of natural ground around the road
	cutSlope  float64 // rise over run
	fillSlope float64
	canopy    bool
}

func drawParams(o Options) params {
	d := newDice(o.Seed, streamParams)
	p := params{
		lon0Deg: math.Round(d.between(-170, 170)*1e4) / 1e4,
		lat0Deg: math.Round(d.between(-58, 62)*1e4) / 1e4,
	}
	p.lengthM = pick(o.LengthM, d.between(10e3, 20e3))
	p.speedKMH = pick(o.DesignSpeedKMH, 40+10*float64(d.IntN(8)))
	if p.kind = o.Kind; p.kind != OrdinaryRoad && o.DesignSpeedKMH == 0 {
		p.speedKMH = drawKindSpeed(newDice(o.Seed, streamKind), p.kind, p.speedKMH)
	}
	p.benchM = pick(o.BenchHalfWidthM, clamp(d.between(3.5, 8)+(p.speedKMH-40)/70*d.between(0, 5), 3.5, 12))
	p.lateralM = pick(o.LateralRMSM, d.between(1, 8))
	p.maxGradePct = 9
	if p.speedKMH >= 90 {
		p.maxGradePct = 6
	}
	p.structuresPerM = 1 / 3600.0
	if o.StructuresPerKM != 0 {
		p.structuresPerM = math.Max(0, o.StructuresPerKM) / 1000
	}
	p.unflagged = 0.5
	if o.UnflaggedShare != 0 {
		p.unflagged = math.Max(0, o.UnflaggedShare)
	}
	p.flat = o.Flat
	p.terrain = terrainParams{
		hurst:     0.85,
		slopeRMS:  d.between(0.10, 0.42),
		microRMS:  d.between(0.02, 0.07),
		cutFillM:  d.between(0.8, 3.5),
		cutSlope:  d.between(0.8, 1.6),
		fillSlope: d.between(0.5, 0.67),
		canopy:    o.Canopy,
	}
	return p
}

// pick returns the figure of Options, or the drawn one where it is 0.
func pick(given, drawn float64) float64 {
	if given != 0 {
		return given
	}
	return drawn
}
