package synth

import "math"

// Thermometer is what a recorder writes as the temperature of the air outside.
type Thermometer uint8

// The thermometers: one is right, the others are wrong in ways that their recordings do not state.
const (
	NoThermometer Thermometer = iota
	OutsideThermometer
	WarmThermometer       // outside, but 15 K too warm
	ConstantThermometer   // always 20 °C
	FahrenheitThermometer // degrees Fahrenheit
)

// The standard atmosphere (ISO 2533:1975).
const (
	standardC     = 15.0
	standardLapse = 0.0065 // K/m
	zeroCelsiusK  = 273.15
)

// air is the air of one drive.
type air struct {
	scaleRatio float64 // of the barometer's heights
	offK, atM  float64 // departure from the standard at a height
	lapse      float64
	wanderK    float64
	d          dice
}

// drawAir draws the air of a drive: its departure from the standard is the road's, its lapse the
// drive's. Differences of pressure heights are those of heights times the standard temperature
// over that of the air (hypsometric equation).
func (r *Road) drawAir(rec Recorder, k int) *air {
	a := &air{offK: rec.WeatherK * newDice(r.options.Seed, streamWeather).NormFloat64(), atM: r.TruthElevationM[len(r.TruthElevationM)/2], d: newDice(r.options.Seed, streamWeather+uint64(k+1)<<8)}
	standardK := zeroCelsiusK + standardC - standardLapse*a.atM
	a.scaleRatio = standardK/(standardK+a.offK) - 1
	a.lapse = a.d.between(0.005, 0.0085)
	return a
}

// readC is what the thermometer shows at a height.
func (a *air) readC(t Thermometer, heightM float64) float64 {
	const shareKept, wanderSD = 0.998, 0.7
	a.wanderK = shareKept*a.wanderK + wanderSD*math.Sqrt(1-shareKept*shareKept)*a.d.NormFloat64()
	c := standardC - standardLapse*a.atM + a.offK - a.lapse*(heightM-a.atM) + a.wanderK + 0.2*a.d.NormFloat64()
	switch t {
	case NoThermometer:
		return math.NaN()
	case WarmThermometer:
		c += 15
	case ConstantThermometer:
		c = 20
	case FahrenheitThermometer:
		c = c*1.8 + 32
	}
	return math.Round(c*10) / 10
}
