package holding

import "gradeline/catalog"

// TailwindMPS is the tail wind that advice counts on where none is given: the unsafe end of
// an ordinary day, since it takes air resistance away. It is Beaufort 3, a gentle breeze of
// 3.4 to 5.4 m/s (World Meteorological Organization, Manual on Codes, table 1100; from memory).
const TailwindMPS = 5.0

// MostTailwindMPS is the strongest tail wind that advice is given for: Beaufort 8, a gale,
// ends at 20.7 m/s (the same table).
const MostTailwindMPS = 20.7

// pushAreaM2 is the drag area of a truck's back, for wind that is faster than the truck: a
// flat plate of 10 m² with a coefficient of 1.17 (Hoerner, Fluid-Dynamic Drag, 1965, plates
// across the flow; from memory).
const pushAreaM2 = 11.7

// tailwindMPS is the tail wind that is counted on.
func (o *Options) tailwindMPS() float64 {
	if o.TailwindMPS != nil {
		return *o.TailwindMPS
	}
	if o.Weather != nil {
		return o.Weather.TailwindMPS
	}
	return TailwindMPS
}

// airflow is the air that meets the truck at one speed.
type airflow struct {
	v2    float64 // the square of its speed from ahead; 0 where it comes from behind
	pushN float64 // its force from behind
}

// airflowAt is the air that meets the truck at a speed. Air from behind counts as dense as at
// sea level in the cold.
func (p *problem) airflowAt(speedMPS float64) airflow {
	const denseKgM3 = 1.4 // −20 °C at sea level
	u := speedMPS - p.tailMPS
	if u >= 0 {
		return airflow{v2: u * u}
	}
	return airflow{pushN: denseKgM3 / 2 * pushAreaM2 * u * u}
}

// dragN is the air resistance on a stretch; negative where the wind pushes.
func (a airflow) dragN(s *stretch) float64 { return s.dragKgPerM*a.v2 - a.pushN }

// keptShare is the share of the heaviest mass that a tail wind leaves, where the retarders have at
// least a force: (F − push)/pull is never less than F/pull·(1 − push/least F).
func (a airflow) keptShare(leastN float64) float64 { return max(0, 1-a.pushN/leastN) }

// pushMPS2 is the most by which a wind from behind speeds up the truck when it is empty.
func (p *problem) pushMPS2(speedMPS float64) float64 {
	if speedMPS >= p.tailMPS {
		return 0
	}
	return p.airflowAt(speedMPS).pushN / p.class.MassMinKg
}

// windWords say which air, wind and tyres are counted on.
func (p *problem) windWords(u catalog.Units) string {
	air := ""
	if w := p.opt.weather(); w != nil {
		air = w.AirWords(u) + ", "
	}
	if p.tailMPS == 0 {
		return air + "calm air and tyres that roll easily are assumed."
	}
	return air + "a tail wind of " + u.Speed(p.tailMPS) + " and tyres that roll easily are assumed."
}
