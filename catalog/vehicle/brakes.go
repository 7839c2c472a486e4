package vehicle

import (
	"maps"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
)

// RotorBalance is a heat balance of one brake drum or disc from first principles, as a
// check on the grade-severity model: heat from friction, heat stored in the rotor, heat
// lost to air and radiation. It shares no constant with that model.
type RotorBalance struct {
	MassKg    float64
	DiameterM float64
	IsDisc    bool
}

// Constants of the balance, all from memory: textbook properties of grey iron
// and of warm air, a drum 0.22 m wide that is open to the air outside and on one
// end, and the usual correlation for a drum in the wheel's wind, Nu = 0.1·Re^⅔.
// A disc is cooled on both faces
// of a ring from .55 of its diameter outward and as much again in its vents.
// Nineteen parts in twenty of the heat go into the rotor, the rest into the linings.
const (
	ironJPerKgK       = 500.0
	ironExpansionPerK = 11e-6 // 10 to 12: the drum growth of the trade press is in that range
	drumWidthM        = 0.22
	discInnerShare    = 0.55
	discVentShare     = 2.0
	airWPerMK         = 0.030
	airM2PerS         = 2.3e-5
	emissivity        = 0.8
	stefanBoltzmann   = 5.670374419e-8 // W/(m²·K⁴)
	drumHeatShare     = 0.95
	kelvin            = 273.15
)

// areaM2 is the cooled area: a drum's outside and its closed end, a disc's faces and vents.
func (d RotorBalance) areaM2() float64 {
	if d.IsDisc {
		return discVentShare * 2 * math.Pi / 4 * d.DiameterM * d.DiameterM * (1 - discInnerShare*discInnerShare)
	}
	return math.Pi*d.DiameterM*drumWidthM + math.Pi/4*d.DiameterM*d.DiameterM
}

// HeatCapacityJPerK is the heat capacity of one rotor.
func (d RotorBalance) HeatCapacityJPerK() float64 { return d.MassKg * ironJPerKgK }

// LossW is the heat that one rotor at a temperature loses to the air at a speed.
func (d RotorBalance) LossW(tempC, airC, speedMPS float64) float64 {
	return d.lossW(tempC, airC, d.airWPerM2K(speedMPS))
}

// airWPerM2K is the transfer of heat to the air at a speed.
func (d RotorBalance) airWPerM2K(speedMPS float64) float64 {
	Re := speedMPS * d.DiameterM / airM2PerS
	return 0.1 * airWPerMK / d.DiameterM * math.Cbrt(Re*Re)
}

func (d RotorBalance) lossW(tempC, airC, h float64) float64 {
	T, Ta := tempC+kelvin, airC+kelvin
	return d.areaM2() * (h*(T-Ta) + emissivity*stefanBoltzmann*(T*T*T*T-Ta*Ta*Ta*Ta))
}

// TempC is the rotor's temperature after a time with a friction power, in steps of at most 2 s.
func (d RotorBalance) TempC(startC, airC, frictionW, speedMPS, timeS float64) float64 {
	n := max(1, int(math.Ceil(timeS/2)))
	dt := timeS / float64(n)
	T, h := startC, d.airWPerM2K(speedMPS)
	for range n {
		T += dt * (drumHeatShare*frictionW - d.lossW(T, airC, h)) / d.HeatCapacityJPerK()
	}
	return T
}

// Snub compares dragging the brakes with snubbing them. Over the same hill at
// the same mean speed both put the same energy into the drums; each snub adds
// RiseC at once, and drums cool by about as much before the next.
type Snub struct {
	RiseC   float64 // of one snub
	PeriodS float64 // from one snub to the next
	MeanW   float64 // per brake, the constant power of dragging
}

// SnubOf works out snubs that slow the truck from a speed by a step, on a hill that leaves powerW
// for the service brakes, shared by brakes.
func (d RotorBalance) SnubOf(massKg, speedMPS, stepMPS, powerW float64, brakes int) Snub {
	low := speedMPS - stepMPS
	kinetic := 0.5 * massKg * (speedMPS*speedMPS - low*low)
	mean := powerW / float64(brakes)
	if powerW <= 0 {
		return Snub{}
	}
	period := kinetic / powerW
	return Snub{RiseC: drumHeatShare * mean * period / d.HeatCapacityJPerK(), PeriodS: period, MeanW: mean}
}

// chamber is a clamp-type brake chamber: its full force up to its adjustment limit, half
// of it at its rated stroke, where the diaphragm's plate meets the bottom, and none beyond.
type chamber struct {
	areaIn2                   float64
	adjustLimitM, ratedStroke float64
}

// Force is area times 100 psi. For type 30 about 3,000 lbf at 2 in and about 1,500 lbf at
// 2½ in are common practice without a source; the same halving is taken for the others.
// Adjustment limits: 49 CFR 393.47 (Federal Register 77, 46633, 2012, published; types
// other than 30 from memory). Rated strokes: 2½ in for type 30 and 3 in for its long-stroke
// kind (trade pages on slack adjusters, second-hand), the others from memory (SAE J1817).
const poundForceN = catalog.PoundKg * GravityMPS2

var chambers = map[string]chamber{
	"16":  {16, 1.75 * catalog.InchM, 2.25 * catalog.InchM},
	"20":  {20, 1.75 * catalog.InchM, 2.25 * catalog.InchM},
	"24":  {24, 1.75 * catalog.InchM, 2.25 * catalog.InchM},
	"24L": {24, 2.0 * catalog.InchM, 2.5 * catalog.InchM},
	"30":  {30, 2.0 * catalog.InchM, 2.5 * catalog.InchM},
	"30L": {30, 2.5 * catalog.InchM, 3.0 * catalog.InchM},
}

// chamberNames lists the chambers known here.
func chamberNames() string { return strings.Join(slices.Sorted(maps.Keys(chambers)), ", ") }

func (c chamber) fullForceN() float64 { return c.areaIn2 * 100 * poundForceN }

// ChamberForceN is a chamber's pushrod force at a stroke; 0 beyond its rated stroke,
// where nothing is left, and for an unknown chamber.
func ChamberForceN(name string, strokeM float64) float64 {
	c, ok := chambers[name]
	if !ok || strokeM > c.ratedStroke*(1+1e-9) {
		return 0
	}
	over := max(0, strokeM-c.adjustLimitM) / (c.ratedStroke - c.adjustLimitM)
	return c.fullForceN() * (1 - 0.5*over)
}

// RatedStrokeM is the stroke at which a chamber bottoms; 0 for an unknown chamber.
func RatedStrokeM(name string) float64 { return chambers[name].ratedStroke }

// DrumGrowthM is the growth of a drum's inner diameter from a cold drum at coldC:
// α·D·ΔT with α 11·10⁻⁶/K for grey iron. For 16.5 in and a rise of 600 °F it
// gives 0.0605 in, as the trade press does (0.050 to 0.066). The other figure of
// the trade, 0.040 in above 700 °F, is the low end and isn't used: the wider
// drum is the unsafe end.
func DrumGrowthM(drumDiameterM, tempC, coldC float64) float64 {
	return max(0, ironExpansionPerK*drumDiameterM*(tempC-coldC))
}

// PushrodStrokeM is the stroke with a grown drum: ¼ in more for each 0.020 in
// (common practice, no source).
func PushrodStrokeM(adjustedStrokeM, drumGrowthM float64) float64 {
	return adjustedStrokeM + drumGrowthM*0.25/0.020
}

// FadeFromC is where poor linings begin to fade: 600 °F (common practice; the
// trade says "about 325 °C").
const FadeFromC = (600.0 - 32) * 5 / 9

// The working range of drum brakes, with no loss: 200 to 400 °F (common practice).
const (
	WorkingFromC = (200.0 - 32) * 5 / 9
	WorkingToC   = (400.0 - 32) * 5 / 9
)

// Disc pads keep their friction further: up to about 400 °C with no loss, fading from
// about 500 °C (from memory).
const (
	discWorkingToC = 400.0
	discFadeFromC  = 500.0
)

// WorkingToC is the end of these brakes' working range.
func (b ServiceBrakes) WorkingToC() float64 {
	if b.IsDisc() {
		return discWorkingToC
	}
	return WorkingToC
}

// FadeFromC is where poor linings of these brakes begin to fade.
func (b ServiceBrakes) FadeFromC() float64 {
	if b.IsDisc() {
		return discFadeFromC
	}
	return FadeFromC
}

// LiningShare is the remaining share of the linings' effectiveness: up to a third is lost by
// poor drum linings above 600 °F (common practice, no source), taken for pads from
// their own temperature on (from memory); all of that third is taken at once.
func (b ServiceBrakes) LiningShare(tempC float64) float64 {
	if b.PoorLining && tempC >= b.FadeFromC() {
		return 2.0 / 3
	}
	return 1
}

// Balance is the heat balance of one of these brakes.
func (b ServiceBrakes) Balance() RotorBalance {
	if b.IsDisc() {
		return RotorBalance{MassKg: b.DiscMassKg, DiameterM: b.DiscDiameterM, IsDisc: true}
	}
	return RotorBalance{MassKg: b.DrumMassKg, DiameterM: b.DrumDiameterM}
}

// Chain is the state of one service brake after heating. A disc has no stroke: its GrowthM and
// StrokeM are 0 and its ForceShare is 1.
type Chain struct {
	GrowthM    float64
	StrokeM    float64
	ForceShare float64 // of the chamber's best force
	LeftShare  float64 // of the cold braking force: chamber and lining
}

// ChainAt follows the chain from temperature to the braking that is left: drum
// growth, pushrod stroke, chamber force, lining. The brake was adjusted at coldC.
func (b ServiceBrakes) ChainAt(tempC, coldC float64) Chain {
	if b.IsDisc() {
		return Chain{ForceShare: 1, LeftShare: b.LiningShare(tempC)}
	}
	full := chambers[b.Chamber].fullForceN()
	out := Chain{GrowthM: DrumGrowthM(b.DrumDiameterM, tempC, coldC)}
	out.StrokeM = PushrodStrokeM(b.AdjustedStrokeM, out.GrowthM)
	out.ForceShare = ChamberForceN(b.Chamber, out.StrokeM) / full
	cold := ChamberForceN(b.Chamber, b.AdjustedStrokeM) / full
	if cold > 0 {
		out.LeftShare = out.ForceShare / cold * b.LiningShare(tempC)
	}
	return out
}

// AdjustLimitM is a chamber's legal limit of adjustment; 0 for an unknown chamber.
func AdjustLimitM(name string) float64 { return chambers[name].adjustLimitM }
