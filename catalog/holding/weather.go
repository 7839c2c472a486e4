package holding

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// ColdOilC is the air in which oil is assumed to be cold after a stop, and NearIceC that in
// which a wet road may be frozen (common practice, no source).
const (
	ColdOilC = 5.0
	NearIceC = 3.0
)

// UsualWeather is the weather of advice that names no other: the unsafe ends of most days on which
// roads are free of ice. Its hot end is the air for which coolers are rated.
func UsualWeather() *catalog.Weather {
	return &catalog.Weather{ColdestC: 0, HottestC: 40, TailwindMPS: TailwindMPS}
}

// airTempsC are the temperatures of the air that advice is for; nil for the standard atmosphere.
func (o *Options) airTempsC() (coldC, hotC *float64) {
	switch {
	case o.TempC != nil:
		return o.TempC, o.TempC
	case o.Weather != nil:
		return &o.Weather.ColdestC, &o.Weather.HottestC
	}
	return nil, nil
}

// weather is the weather that the advice is for; nil for the standard atmosphere.
func (o *Options) weather() *catalog.Weather {
	coldC, hotC := o.airTempsC()
	if coldC == nil {
		return nil
	}
	return &catalog.Weather{ColdestC: *coldC, HottestC: *hotC, TailwindMPS: o.tailwindMPS()}
}

// weatherCautions are the cautions for heat and cold.
func (p *problem) weatherCautions(h *catalog.Hold) []string {
	var out []string
	if h.Holds && hasKind(p.truck, vehicle.DrivelineRetarder) {
		out = append(out, "A retarder that heats the coolant cuts itself back when that is hot: watch the gauge and keep the engine speed up.")
	}
	coldC, hotC := p.opt.airTempsC()
	isOiled := hasKind(p.truck, vehicle.EngineRetarder) || hasKind(p.truck, vehicle.DrivelineRetarder)
	switch {
	case coldC == nil || *coldC > ColdOilC:
		return out
	case *hotC > ColdOilC && isOiled: // on some days only
		return append(out, fmt.Sprintf("In air under %s warm the truck up and try every stage before the crest; under %s a road that looks wet can be ice.",
			p.units.Temp(ColdOilC), p.units.Temp(NearIceC)))
	case *hotC > ColdOilC:
		return append(out, fmt.Sprintf("In air under %s a road that looks wet can be ice.", p.units.Temp(NearIceC)))
	case isOiled:
		out = append(out, "Cold oil: an engine brake may not come on, and a retarder comes on late, until oil and coolant are warm (an engine maker's manual: oil above 30 °C, 86 °F). Warm the truck up and try every stage before the crest.")
	}
	if *coldC <= NearIceC {
		out = append(out, "Near freezing: there can be ice where the road looks wet.")
	}
	return out
}

// weatherDefaults say which air and wind are assumed where none was asked for.
func (p *problem) weatherDefaults() []string {
	w, usual := p.opt.weather(), UsualWeather()
	var out []string
	if w == nil {
		out = append(out, p.temperatureDefault())
	} else if w.ColdestC == usual.ColdestC && w.HottestC == usual.HottestC {
		out = append(out, fmt.Sprintf("air of %g to %g °C (%s; hot where it weakens a brake or takes air resistance away, cold where it makes one grab)", w.ColdestC, w.HottestC, strings.TrimPrefix(w.AirWords(catalog.US), "air of ")))
	}
	if p.opt.TailwindMPS == nil && p.tailMPS == TailwindMPS {
		out = append(out, fmt.Sprintf("tail wind = %g m/s (%s, %s; a gentle breeze, less air resistance than in calm air)", TailwindMPS, catalog.US.Speed(TailwindMPS), catalog.Metric.Speed(TailwindMPS)))
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
