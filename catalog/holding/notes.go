package holding

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// defaults lists every default that was used.
func (p *problem) defaults() []string {
	out := []string{}
	for _, d := range p.class.Defaults {
		out = append(out, d.String())
	}
	if p.opt.MassKg == 0 {
		out = append(out, fmt.Sprintf("mass = %.0f kg (%s, the class's upper end)", p.massKg, catalog.US.Mass(p.massKg)))
	}
	if p.opt.ReservePct == 0 {
		out = append(out, fmt.Sprintf("reserve = %g %% (the class's)", p.truck.ReservePct))
	}
	out = append(out, p.weatherDefaults()...)
	out = append(out, fmt.Sprintf("rolling resistance = %g (the class's, the low end)", p.truck.RollingResistance))
	if p.hill.ElevationM == nil && p.opt.AltitudeM == nil {
		out = append(out, fmt.Sprintf("altitude = %.0f m (%s; no elevation given)", PlainAltitudeM, catalog.US.Height(PlainAltitudeM)))
	}
	if p.hill.RadiusM == nil {
		out = append(out, "curves: none given, straight assumed")
	}
	if p.opt.SightM == 0 {
		out = append(out, "sight distance: none given, not limiting")
	}
	if p.hill.Plain {
		out = append(out, "grade assumed exact and even")
	}
	return out
}

// statuses lists the sources of the constants, first those in the class file, then the others.
func (p *problem) statuses() []catalog.FigureStatus {
	out := []catalog.FigureStatus{{Figure: "mass_max_kg", Status: p.class.Legal.Status, Source: p.class.Legal.Document}}
	for _, s := range p.class.Sources {
		out = append(out, catalog.FigureStatus{Figure: s.Figure, Status: s.Status, Source: s.Source})
	}
	return append(out,
		catalog.FigureStatus{Figure: "air density", Status: "published", Source: "US Standard Atmosphere 1976"},
		catalog.FigureStatus{Figure: "heat of the service brakes, emergency stop", Status: p.heatModel.Status, Source: p.heatModel.Source},
		catalog.FigureStatus{Figure: "heat balance of a drum", Status: "from memory", Source: "properties of grey iron and air; an independent check"},
		catalog.FigureStatus{Figure: "pushrod stroke, chamber force, lining fade", Status: "common practice", Source: "the trade's figures, no source"},
		catalog.FigureStatus{Figure: "friction of surfaces", Status: "from memory", Source: "low ends for truck tyres"},
		catalog.FigureStatus{Figure: "side friction in curves", Status: "second-hand", Source: "AASHTO Green Book, maximum side friction factors"},
	)
}

// NoRetarder begins the caution of a truck without a retarder.
const NoRetarder = "No retarder: "

// SurgeBasis begins the part of a tanker's caution that tells the office, not the driver, how curve
// speeds were found.
const SurgeBasis = "Curve speeds are taken at"

// setCautions fills in the cautions in the unit of the class's country, and in the other
// where a figure makes them differ.
func (p *problem) setCautions(out *catalog.Hold) {
	out.Cautions = p.cautions(out)
	q := *p
	q.units = catalog.US
	other := &out.CautionsUS
	if p.units == catalog.US {
		q.units, other = catalog.Metric, &out.CautionsMetric
	}
	if c := q.cautions(out); !slices.Equal(c, out.Cautions) {
		*other = c
	}
}

// cautions are the cautions of this answer; catalog.Cautions are printed with them.
func (p *problem) cautions(h *catalog.Hold) []string {
	out := []string{}
	if !h.Holds {
		out = append(out, "Not held: keep this truck off this hill at this mass, or find another way down.")
	}
	if lead := p.weatherLead(); lead != "" {
		out = append(out, lead)
	}
	out = append(out, p.kindCautions(h)...)
	out = append(out, p.surfaceCautions(h)...)
	if least, most := p.hill.errRangePct(); most >= 0.5 {
		up := func(e float64) float64 { return math.Ceil(e*10) / 10 }
		points := fmt.Sprintf("%.1f", up(most))
		if up(least) < up(most) {
			points = fmt.Sprintf("%.1f to %.1f", up(least), up(most))
		}
		out = append(out, fmt.Sprintf("The grade is known to within %s points. The advice assumes the steeper end.", points))
	}
	if h.Holds && h.SpeedMPS < 7 {
		out = append(out, "So slow that other traffic must be warned: hazard lamps, and the climbing lane or shoulder where the law allows.")
	}
	if v := h.ApproachSpeedMPS; h.Holds && v > h.SpeedMPS {
		out = append(out, fmt.Sprintf("Slow down before the crest: from %s that takes about %s.", p.units.Speed(v), p.units.LengthUp(p.slowingM(v, h.SpeedMPS))))
	}
	if tempC, ok := h.SlowingTempC(); ok {
		out = append(out, fmt.Sprintf("On the way the service brakes slow the truck for a curve, to about %s at most; only with cold brakes in adjustment, and only on the surfaces that the advice allows. In any doubt keep the gear and speed of the first answer all the way.", p.units.Temp(tempC)))
	}
	if p.leansOnDrag(h) {
		out = append(out, "At this speed air resistance does much of the work on this hill: with more wind from behind than that there is more to hold.")
	}
	if h.LimitedBy == catalog.LimitFreeRolling {
		out = append(out, "No retarder is needed here at this speed.")
	}
	out = append(out, p.weatherCautions(h)...)
	return out
}

// kindCautions are the additional cautions of a kind of truck.
func (p *problem) kindCautions(h *catalog.Hold) []string {
	var out []string
	if len(p.truck.Retarders) == 0 {
		out = append(out, NoRetarder+"engine drag alone is counted, in gear, clutch closed, foot off the fuel. Missing a gear leaves only the service brakes.")
	}
	if h.Charge != nil {
		out = append(out, chargeCaution(h.Charge, p.units))
		if h.Charge.IsCounted {
			out = append(out, "Before the crest check that the display offers full recuperation: a battery that is cold, hot or almost full takes less.")
		}
	}
	for _, r := range p.truck.Retarders {
		if r.Kind == vehicle.TrailerRetarder {
			out = append(out, "The trailer's retarder works with this trailer only; where its wheels lock, the trailer swings out.")
			break
		}
	}
	if p.class.PartFullTank {
		out = append(out, fmt.Sprintf("Part-full tank: the liquid surges forward when the retarder sets in and to the outside in a curve; baffles across the tank damp the first, not the second. Set one stage at a time, early. %s %.0f %% of the full tank's rollover threshold (%s).",
			SurgeBasis, 100*p.class.SurgeShare, p.surgeStatus()))
	}
	return out
}

// surgeStatus is the status of the share of a part-full tank.
func (p *problem) surgeStatus() string {
	for _, s := range p.class.Sources {
		if s.Figure == "surge_share" {
			return s.Status
		}
	}
	return "from memory"
}

// leansOnDrag reports whether air resistance does over a third of the work on the hardest stretch:
// above that, a higher speed needs less of the retarder.
func (p *problem) leansOnDrag(h *catalog.Hold) bool {
	if !h.Holds {
		return false
	}
	s := p.worst(h.Gear, h.SpeedMPS, p.massKg).at
	return s.pullMPS2 > 0 && p.airflowAt(h.SpeedMPS).dragN(&s) > p.massKg*s.pullMPS2/3
}

// surfaceCautions say on which roads the advice must not be used, and for which masses it is valid.
func (p *problem) surfaceCautions(h *catalog.Hold) []string {
	var out []string
	needed := max(h.FrictionNeeded, h.FrictionApplied)
	if len(h.SurfacesOut) > 0 && h.Holds {
		lead := "Not on these surfaces: "
		if h.IsDryRoadOnly() {
			lead = catalog.DryRoadOnly + ": not on these surfaces: "
		}
		out = append(out, fmt.Sprintf("%s%s. The advised stage, when it is switched on, makes the retarded wheels need a friction of %.2f.",
			lead, strings.Join(h.SurfacesOut, ", "), catalog.ShownFriction(needed)))
	}
	if h.LimitedBy == catalog.LimitFriction && !h.Holds {
		out = append(out, fmt.Sprintf("Not on these surfaces: %s. The retarded wheels need a friction of %.2f.", strings.Join(h.SurfacesOut, ", "), catalog.ShownFriction(needed)))
	}
	if h.Holds && h.MassLightKg > p.lightKg+1 {
		out = append(out, fmt.Sprintf("For masses from %s to %s: a lighter truck locks its wheels at this stage even on a dry road; get advice for its own mass.",
			p.units.MassUp(h.MassLightKg), p.units.MassDown(h.MassKg)))
	} else if h.Holds && h.MassLightKg < h.MassKg-1 {
		out = append(out, fmt.Sprintf("For masses from %s to %s: surfaces are judged for the lightest, which locks its wheels first.", p.units.Mass(h.MassLightKg), p.units.MassDown(h.MassKg)))
	}
	if kg := p.grippingFromKg(h); kg > 0 {
		out = append(out, fmt.Sprintf("On a wet road only a truck of at least %s keeps its grip at this stage: get advice for its own mass.", p.units.MassUp(kg)))
	}
	return out
}

// grippingFromKg is the lightest mass of an answer for a dry road only whose axles keep their
// grip on a wet road at the advised stage; 0 where none does.
func (p *problem) grippingFromKg(h *catalog.Hold) float64 {
	wet := 0.0
	for _, s := range h.Surfaces {
		if s.Surface == catalog.SurfaceWet {
			wet = s.FrictionAllowed
		}
	}
	if !h.IsDryRoadOnly() || p.frictionOf(p.chosen, h.MassKg) > wet {
		return 0
	}
	return p.lightestOnGripKg(p.chosen, h.MassLightKg, h.MassKg, wet)
}
