package vehicle

import (
	"math"

	"gradeline/catalog"
)

// DrumBalance is a heat balance of one drum from first principles, as a check on
// the grade-severity model: what goes in by friction, what the drum stores, what
// air and radiation carry off. It shares no constant with that model.
type DrumBalance struct {
	DrumMassKg    float64
	DrumDiameterM float64
}

// Constants of the balance, all from memory: textbook properties of grey iron
// and of warm air, a drum 0.22 m wide that is open to the air outside and on one
// end, and the usual correlation for a drum in the wheel's wind, Nu = 0.1·Re^⅔.
// Nineteen parts in twenty of the heat go into the drum, the rest into the shoes.
const (
	ironJPerKgK       = 500.0
	ironExpansionPerK = 11e-6 // 10 to 12: the drum growth of the trade press is in that range
	drumWidthM        = 0.22
	airWPerMK         = 0.030
	airM2PerS         = 2.3e-5
	emissivity        = 0.8
	stefanBoltzmann   = 5.670374419e-8 // W/(m²·K⁴)
	drumHeatShare     = 0.95
	kelvin            = 273.15
)

// areaM2 is the drum's outside and its closed end.
func (d DrumBalance) areaM2() float64 {
	return math.Pi*d.DrumDiameterM*drumWidthM + math.Pi/4*d.DrumDiameterM*d.DrumDiameterM
}

// HeatCapacityJPerK is what one drum stores.
func (d DrumBalance) HeatCapacityJPerK() float64 { return d.DrumMassKg * ironJPerKgK }

// LossW is what one drum at a temperature gives to the air at a speed.
func (d DrumBalance) LossW(tempC, airC, speedMPS float64) float64 {
	Re := speedMPS * d.DrumDiameterM / airM2PerS
	h := 0.1 * airWPerMK / d.DrumDiameterM * math.Cbrt(Re*Re)
	T, Ta := tempC+kelvin, airC+kelvin
	return d.areaM2() * (h*(T-Ta) + emissivity*stefanBoltzmann*(T*T*T*T-Ta*Ta*Ta*Ta))
}

// TempC is the drum's temperature after a time with a friction power on it, by
// steps of at most 2 s.
func (d DrumBalance) TempC(startC, airC, frictionW, speedMPS, timeS float64) float64 {
	n := max(1, int(math.Ceil(timeS/2)))
	dt := timeS / float64(n)
	T := startC
	for range n {
		T += dt * (drumHeatShare*frictionW - d.LossW(T, airC, speedMPS)) / d.HeatCapacityJPerK()
	}
	return T
}

// Snub compares dragging the brakes with snubbing them. Over the same hill at
// the same mean speed both put the same energy into the drums; each snub adds
// RiseC at once, and drums cool by about as much before the next.
type Snub struct {
	RiseC   float64 // of one snub
	PeriodS float64 // from one snub to the next
	MeanW   float64 // per brake, what dragging would take without pause
}

// SnubOf works out snubs that take the truck from a speed down by a step, on a
// hill that leaves powerW for the service brakes, shared by brakes.
func (d DrumBalance) SnubOf(massKg, speedMPS, stepMPS, powerW float64, brakes int) Snub {
	low := speedMPS - stepMPS
	kinetic := 0.5 * massKg * (speedMPS*speedMPS - low*low)
	mean := powerW / float64(brakes)
	if powerW <= 0 {
		return Snub{}
	}
	period := kinetic / powerW
	return Snub{RiseC: drumHeatShare * mean * period / d.HeatCapacityJPerK(), PeriodS: period, MeanW: mean}
}

// chamber is a clamp-type brake chamber: full force up to bestStrokeM, half at
// halfStrokeM, in proportion beyond, none where the pushrod meets the bottom.
type chamber struct{ fullForceN, bestStrokeM, halfStrokeM float64 }

// Type 30 at 100 psi: about 3,000 lbf at 2 in, about 1,500 lbf at 2½ in (common
// practice, no source). The long-stroke chamber is the same ½ in later: its
// adjustment limit is 2½ in instead of 2 in (49 CFR 393.47, second-hand).
const poundForceN = catalog.PoundKg * GravityMPS2

var chambers = map[string]chamber{
	"30":  {3000 * poundForceN, 2.0 * catalog.InchM, 2.5 * catalog.InchM},
	"30L": {3000 * poundForceN, 2.5 * catalog.InchM, 3.0 * catalog.InchM},
}

// ChamberForceN is a chamber's pushrod force at a stroke; 0 for an unknown chamber.
func ChamberForceN(name string, strokeM float64) float64 {
	c, ok := chambers[name]
	if !ok {
		return 0
	}
	over := math.Max(0, strokeM-c.bestStrokeM) / (c.halfStrokeM - c.bestStrokeM)
	return c.fullForceN * math.Max(0, 1-0.5*over)
}

// DrumGrowthM is how much wider a drum's inside gets from a cold drum at coldC:
// α·D·ΔT with α 11·10⁻⁶/K for grey iron. For 16.5 in and a rise of 600 °F it
// gives 0.0605 in, as the trade press does (0.050 to 0.066). The other figure of
// the trade, 0.040 in above 700 °F, is the low end and isn't used: the wider
// drum is the unsafe end.
func DrumGrowthM(drumDiameterM, tempC, coldC float64) float64 {
	return math.Max(0, ironExpansionPerK*drumDiameterM*(tempC-coldC))
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

// LiningShare is what is left of a lining's effectiveness: up to a third is lost
// by poor linings above 600 °F; all of that third is taken at once.
func LiningShare(tempC float64, poor bool) float64 {
	if poor && tempC >= FadeFromC {
		return 2.0 / 3
	}
	return 1
}

// Chain is what heat leaves of one service brake.
type Chain struct {
	GrowthM    float64
	StrokeM    float64
	ForceShare float64 // of the chamber's best force
	LeftShare  float64 // of the cold braking force: chamber and lining
}

// ChainAt follows the chain from temperature to the braking that is left: drum
// growth, pushrod stroke, chamber force, lining. The drum was adjusted at coldC.
func (b ServiceBrakes) ChainAt(tempC, coldC float64) Chain {
	c := chambers[b.Chamber]
	out := Chain{GrowthM: DrumGrowthM(b.DrumDiameterM, tempC, coldC)}
	out.StrokeM = PushrodStrokeM(b.AdjustedStrokeM, out.GrowthM)
	out.ForceShare = ChamberForceN(b.Chamber, out.StrokeM) / c.fullForceN
	cold := ChamberForceN(b.Chamber, b.AdjustedStrokeM) / c.fullForceN
	if cold > 0 {
		out.LeftShare = out.ForceShare / cold * LiningShare(tempC, b.PoorLining)
	}
	return out
}
