package holding

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// coldOilC is the air in which oil is assumed to be cold after a stop, and nearIceC that in
// which a wet road may be frozen (common practice, no source).
const (
	coldOilC = 5.0
	nearIceC = 3.0
)

// weatherCautions are the cautions for heat and cold.
func (p *problem) weatherCautions(h *catalog.Hold) []string {
	var out []string
	if h.Holds && hasKind(p.truck, vehicle.DrivelineRetarder) {
		out = append(out, "A retarder that heats the coolant is cut back by itself when the coolant is hot: watch the gauge, and keep the engine speed up, which cools it.")
	}
	if t := p.opt.TempC; t != nil && *t <= coldOilC && (hasKind(p.truck, vehicle.EngineRetarder) || hasKind(p.truck, vehicle.DrivelineRetarder)) {
		out = append(out, "Cold oil: an engine brake may not come on, and a retarder comes on late, until oil and coolant are warm (an engine maker's manual: oil above 30 °C, 86 °F). Warm the truck up and try every stage before the crest.")
	}
	if t := p.opt.TempC; t != nil && *t <= nearIceC {
		out = append(out, "Near freezing: there can be ice where the road looks wet.")
	}
	return out
}

// temperatureDefault says which air is assumed where no temperature is given, and what hot
// air would take from an engine brake.
func (p *problem) temperatureDefault() string {
	hotC := 40.0
	highestM := p.slope.highestM()
	out := "air temperature (standard atmosphere"
	now, then := p.truck.EngineShare(highestM), p.truck.EngineShare(vehicle.DensityAltitudeM(vehicle.AirDensityKgM3(highestM, &hotC)))
	if hasKind(p.truck, vehicle.EngineRetarder) && then < now {
		out += fmt.Sprintf("; in air of %g °C the engine brake gives up to %.0f %% less on this hill", hotC, math.Ceil(100*(1-then/now)))
	}
	for i := range p.truck.Retarders {
		if r := &p.truck.Retarders[i]; r.CoolingTempC > 0 {
			out += fmt.Sprintf("; the cooling of the %s retarder is counted for air of up to %g °C", r.Kind, r.CoolingTempC)
		}
	}
	return out + ")"
}

// hasKind reports whether a truck has a retarder of a kind.
func hasKind(t *vehicle.Truck, kind vehicle.RetarderKind) bool {
	for i := range t.Retarders {
		if t.Retarders[i].Kind == kind {
			return true
		}
	}
	return false
}
