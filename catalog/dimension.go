package catalog

import (
	"math"
	"strconv"
	"strings"

	"gradeline/terrain"
)

// HorsepowerW is the horsepower of 550 ft·lbf/s, exact by the foot, the pound and
// standard gravity; MetricHorsepowerW, the PS of 75 kgf·m/s, likewise.
const (
	HorsepowerW       = 550 * FootM * PoundKg * terrain.GravityMPS2
	MetricHorsepowerW = 75 * terrain.GravityMPS2
)

// poundFootNm is the pound-force foot, exact by the pound, the foot and standard gravity.
const poundFootNm = PoundKg * terrain.GravityMPS2 * FootM

// JPerWh is the joules of a watt-hour, exact.
const JPerWh = 3600.0

// Dimension is a kind of figure that data sheets state in several units.
type Dimension struct {
	what, example string
	units         []unit
	isZeroGiven   bool // zero is allowed
}

// The dimensions of figures with a unit in a class file, each in the SI unit of its name (litres
// for a volume, as is usual for engines).
var (
	DimensionMassKg   = Dimension{"mass", "80000 lb", massUnits, false}
	DimensionSpeedMPS = Dimension{"speed", "65 mph", speedUnits, false}
	DimensionLengthM  = Dimension{"length", "13 ft 6 in, 16.5 in or 419 mm", []unit{{"mm", 0.001, true}, {"cm", 0.01, false}, {"in", InchM, true}, {"inches", InchM, false}, {"ft", FootM, false}, {"feet", FootM, false}, {"m", 1, true}}, false}
	DimensionHeightM  = Dimension{"height", "5000 ft", []unit{{"ft", FootM, true}, {"m", 1, true}}, true}
	DimensionAreaM2   = Dimension{"area", "54 ft2 or 5 m2", []unit{{"ft2", FootM * FootM, true}, {"ft²", FootM * FootM, false}, {"m2", 1, true}, {"m²", 1, false}}, false}
	DimensionPowerW   = Dimension{"power", "270 hp or 200 kW", []unit{{"kW", 1000, true}, {"bhp", HorsepowerW, false}, {"hp", HorsepowerW, true}, {"PS", MetricHorsepowerW, true}, {"W", 1, false}}, false}
	DimensionTorqueNm = Dimension{"torque", "2200 lbft or 3000 Nm", []unit{{"Nm", 1, true}, {"lbft", poundFootNm, true}, {"lb-ft", poundFootNm, false}, {"lb ft", poundFootNm, false}, {"lb·ft", poundFootNm, false}, {"ft-lb", poundFootNm, false}, {"ft lb", poundFootNm, false}, {"N·m", 1, false}, {"N m", 1, false}}, false}
	DimensionEnergyWh = Dimension{"energy", "540 kWh", []unit{{"kWh", 1000, true}, {"Wh", 1, false}}, false}
	DimensionVolumeL  = Dimension{"volume", "12.8 l or 781 in3", []unit{{"cc", 0.001, false}, {"cm3", 0.001, false}, {"cm³", 0.001, false}, {"litres", 1, false}, {"liters", 1, false}, {"litre", 1, false}, {"liter", 1, false}, {"in3", InchM * InchM * InchM * 1000, true}, {"l", 1, true}}, false}
)

// Figure is a quantity as it was written.
type Figure struct {
	SI     float64
	unit   string
	unitSI float64
}

// Read reads a figure such as "80,000 lb". A bare number is refused.
func (d Dimension) Read(s string) (Figure, error) {
	if low := strings.ToLower(s); strings.Contains(low, "ton") {
		return Figure{}, quantityFault(s, "ton has three meanings", "write t for 1,000 kg or st for 2,000 lb, as in 46.5t or 40st")
	}
	si, err := quantityFrom(s, d.what, d.units, d.example, d.isZeroGiven)
	if err != nil {
		return Figure{}, err
	}
	t := feetAndInches(strings.TrimSpace(s), d.units)
	for _, u := range d.units {
		if hasUnit(t, u.name) {
			return Figure{si, u.name, u.si}, nil
		}
	}
	return Figure{SI: si}, nil
}

// One is one unit of the dimension; one SI unit for a unit that it does not have.
func (d Dimension) One(unitName string) Figure {
	for _, u := range d.units {
		if u.name == unitName {
			return Figure{u.si, u.name, u.si}
		}
	}
	return Figure{SI: 1}
}

// Show writes another value of the same kind in the unit of the figure.
func (f Figure) Show(valueSI float64) string {
	if f.unitSI == 0 {
		return strconv.FormatFloat(valueSI, 'g', 6, 64)
	}
	v := valueSI / f.unitSI
	if math.Abs(v) >= 1000 && math.Abs(v) < 1e12 {
		return group(math.Round(v)) + " " + f.unit
	}
	return strconv.FormatFloat(v, 'g', 4, 64) + " " + f.unit
}

// ChargePct reads "70%" or "0 %" as the charge of a battery, up to 100 %. A bare number is
// refused.
func ChargePct(s string) (float64, error) {
	pct, err := quantityFrom(s, "charge", []unit{{"%", 1, true}}, "70%", true)
	if err == nil && pct > 100 {
		return 0, quantityFault(s, "a battery cannot be over 100 %", "give the charge at the crest, 0 to 100 %")
	}
	return pct, err
}

// hasUnit reports whether a text is a number followed by this unit.
func hasUnit(s, unit string) bool {
	num, isUnit := withoutUnit(s, unit)
	if !isUnit {
		return false
	}
	if _, ok := number(num); ok {
		return true
	}
	_, ok := fraction(num, unit)
	return ok
}
