package vehicle

import "math"

// Air is the air around engine brakes and coolers on a hill. The zero value is the standard
// atmosphere at sea level.
type Air struct {
	ColdC     *float64 // coldest; nil: the standard atmosphere's at sea level
	HotC      *float64 // hottest; nil: up to CoolingTempC
	thinShare float64  // reduction of the pressure at the hill's highest place against sea level, 0 to 1
	isAtBest  bool
}

// AirAt is the air of a hill whose highest place is at a height above sea level.
func AirAt(highestM float64, tempC *float64) Air { return AirBetween(highestM, tempC, tempC) }

// AirBetween is AirAt for air from one temperature to another.
func AirBetween(highestM float64, coldC, hotC *float64) Air {
	return Air{ColdC: coldC, HotC: hotC, thinShare: max(0, 1-pressureShare(highestM))}
}

// AirAtBest is air in which every cooler reaches its rated power at any engine speed: the high end
// of a retarder's power.
func AirAtBest() Air { return Air{isAtBest: true} }

// The US Standard Atmosphere 1976 up to 11,000 m: temperature and pressure at sea level, lapse
// rate, gas constant of air, and g0·M/(R*·L).
const (
	seaLevelK     = 288.15
	seaLevelPa    = 101325.0
	lapseKPerM    = 0.0065
	gasJPerKgK    = 287.05287
	pressurePower = 5.255877
	zeroCelsiusK  = 273.15
)

// pressureShare is the standard pressure at a height over that at sea level.
func pressureShare(elevationM float64) float64 {
	return math.Pow(1-lapseKPerM*elevationM/seaLevelK, pressurePower)
}

// AirDensityKgM3 returns the density of dry air at a height above sea level. Up to
// 11,000 m it is the US Standard Atmosphere 1976 (published: 1.2250 at 0 m); beyond,
// NaN. With tempC the pressure is the standard one at that height and the temperature
// is tempC.
func AirDensityKgM3(elevationM float64, tempC *float64) float64 {
	if elevationM < -1000 || elevationM > 11000 {
		return math.NaN()
	}
	k := seaLevelK - lapseKPerM*elevationM
	if tempC != nil {
		k = *tempC + zeroCelsiusK
	}
	return seaLevelPa * pressureShare(elevationM) / (gasJPerKgK * k)
}

// DensityAltitudeM is the height at which the standard atmosphere is as thin as air of a
// density: 2,780 m for air of 40 °C at 1,500 m.
func DensityAltitudeM(densityKgM3 float64) float64 {
	const seaLevelKgM3 = seaLevelPa / (gasJPerKgK * seaLevelK)
	return seaLevelK / lapseKPerM * (1 - math.Pow(densityKgM3/seaLevelKgM3, 1/(pressurePower-1)))
}

// coolantC is the temperature that coolant is assumed to reach. A pressure cap keeps it from
// boiling higher up.
const coolantC = 100.0

// coolingShare is the share of a sustained power that a cooler carries off. It is 1 at sea
// level in air of up to its CoolingTempC, with the engine at CoolingRPM or faster. It falls
//
//   - with the difference between the coolant and the air, in hotter air;
//   - with the density of the air: its mass flow carries the heat. A cooler loses less than that, since the air then leaves it at a higher temperature: forced cooling loses 17 to 39 % at
//     5,000 m, where the air is thinner by 40 % (NRAO, memo 203 on forced air cooling at
//     high altitude, published). So it is a bound;
//   - with the engine speed, which turns the coolant's pump and often the fan: makers of
//     retarders ask for the highest permitted engine speed for the flow of oil and coolant
//     (operators' manuals, published); in proportion is a bound.
func (r *Retarder) coolingShare(rpm float64, air Air) float64 {
	if air.isAtBest {
		return 1
	}
	share := 1 - air.thinShare
	if t := air.HotC; t != nil && *t > r.CoolingTempC {
		share *= max(0, (coolantC-*t)/(coolantC-r.CoolingTempC)) * (r.CoolingTempC + zeroCelsiusK) / (*t + zeroCelsiusK)
	}
	if rpm < r.CoolingRPM {
		share *= rpm / r.CoolingRPM
	}
	return share
}

// engineAirShare is the factor by which an engine brake may exceed its curve in cold and therefore
// dense air: a high end, for grip.
func (a Air) engineAirShare() float64 {
	if a.ColdC == nil {
		return 1
	}
	return max(1, seaLevelK/(*a.ColdC+zeroCelsiusK))
}

// coldLossTimes is the factor of the driveline's losses at the wheels while its oil is cold,
// in air below freezing (no source: a bound, for grip only).
const coldLossTimes = 2.0

// lossTimes is the factor of the driveline's losses for grip.
func (a Air) lossTimes() float64 {
	if a.ColdC != nil && *a.ColdC < 0 {
		return coldLossTimes
	}
	return 1
}

// IsOfTemps reports whether air has the temperatures of some other, however thin both are.
func (a Air) IsOfTemps(b Air) bool {
	return a.isAtBest == b.isAtBest && isSameTemp(a.ColdC, b.ColdC) && isSameTemp(a.HotC, b.HotC)
}

// WorksAlikeIn reports whether all retarders of the truck have the same power in two kinds of air.
// Only coolers depend on how thin the air is.
func (t *Truck) WorksAlikeIn(a, b Air) bool {
	return a.IsOfTemps(b) && (a.thinShare == b.thinShare || t.stagesOf(DrivelineRetarder)+t.stagesOf(TrailerRetarder) == 0)
}

func isSameTemp(a, b *float64) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }
