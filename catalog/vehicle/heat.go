package vehicle

import "math"

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
