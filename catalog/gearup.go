package catalog

import (
	"fmt"
	"math"
	"strings"
)

// GearUp is the result one gear higher than advised, as data. Outcome decides which of the figures
// are set.
type GearUp struct {
	Gear           int     `json:"gear"`
	GearName       string  `json:"gear_name"`
	Outcome        string  `json:"outcome"` // one of the GearUp… values
	SpeedMPS       float64 `json:"speed_mps"`
	EngineRPM      float64 `json:"engine_rpm"`
	BelowCrestM    float64 `json:"below_crest_m"`
	RetarderUsePct float64 `json:"retarder_use_pct"`
}

// The results one gear higher.
const (
	GearUpNone      = "top gear"            // there is none
	GearUpTooSlow   = "too slow to retard"  // engine turns EngineRPM at SpeedMPS
	GearUpOverspeed = "passes its governed" // engine passes EngineRPM at SpeedMPS, BelowCrestM down
	GearUpGains     = "gains speed"         // up to SpeedMPS
	GearUpTooSteep  = "too steep"           // the steepest part needs RetarderUsePct
	GearUpReserve   = "into the reserve"    // holds by RetarderUsePct
	GearUpHolds     = "less to spare"       // holds by RetarderUsePct, which leaves the reserve
)

// Words describes it in a unit system.
func (g *GearUp) Words(u Units) string {
	switch g.Outcome {
	case GearUpNone:
		return "this is the top gear"
	case GearUpTooSlow:
		return fmt.Sprintf("gear %s: at %s the engine turns %.0f rpm, too slow to retard", GearLabel(g.GearName, g.Gear), u.Speed(g.SpeedMPS), math.Round(g.EngineRPM/50)*50)
	case GearUpOverspeed:
		return fmt.Sprintf("gear %s: the retarder does not hold; the engine passes its governed %.0f rpm at %s, %s below the crest", GearLabel(g.GearName, g.Gear), g.EngineRPM, u.Speed(g.SpeedMPS), u.Length(g.BelowCrestM))
	case GearUpGains: // rounded up: it is not advice
		return fmt.Sprintf("gear %s: the retarder does not hold; the truck gains speed to about %s with all of it in use", GearLabel(g.GearName, g.Gear), u.Speed(g.SpeedMPS+0.999*u.SpeedUnitMPS()))
	case GearUpTooSteep:
		return fmt.Sprintf("gear %s: the retarder does not hold; the steepest part needs %.0f %% of it", GearLabel(g.GearName, g.Gear), g.RetarderUsePct)
	case GearUpHolds:
		return fmt.Sprintf("gear %s: holds by %.0f %% of the retarder; the engine turns slower there", GearLabel(g.GearName, g.Gear), g.RetarderUsePct)
	case GearUpReserve:
		return fmt.Sprintf("gear %s: holds only by %.0f %% of the retarder, into the reserve", GearLabel(g.GearName, g.Gear), g.RetarderUsePct)
	}
	return g.Outcome
}

// OneGearUpIn is the result one gear higher in words, in a unit system; an older catalogue has it
// in the survey's system only.
func (h *Hold) OneGearUpIn(u Units) string {
	if h.GearUp == nil {
		return h.OneGearUp
	}
	words := h.GearUp.Words(u)
	if holder := h.HolderWord(); holder != "retarder" {
		words = strings.ReplaceAll(words, "the retarder", holder)
	}
	return words
}

// HeatCase is the assumed use of the service brakes along the hill, as data.
type HeatCase struct {
	IsRest     bool     `json:"rest_only"`          // they do what the retarder cannot; else everything, with the retarder off
	SpeedMPS   float64  `json:"speed_mps"`          // held all the way
	WorkingToC float64  `json:"working_to_c"`       // end of their working range
	WorkingM   *float64 `json:"past_working_m"`     // below the crest, where they leave it; nil if they do not
	FadeFromC  float64  `json:"fade_from_c"`        // where poor linings fade
	FadeM      *float64 `json:"past_fade_m"`        // below the crest; nil likewise
	SnubMPS    float64  `json:"snub_mps"`           // speed that one snub takes off; 0 where there is nothing to snub
	SnubRiseC  float64  `json:"snub_rise_c"`        // temperature that one snub adds
	SnubEveryS float64  `json:"snub_every_s"`       // on the steepest part
	IsElectric bool     `json:"electric,omitempty"` // a motor with recuperation off has no drag
}

// Words describes it in a unit system.
func (k *HeatCase) Words(u Units) string {
	s := "retarder off: the service brakes hold the advised speed, the engine's own drag helps"
	if k.IsElectric {
		s = "recuperation off: the service brakes hold the advised speed alone"
	}
	if k.IsRest {
		s = fmt.Sprintf("the service brakes do what the retarder cannot, at %s", u.Speed(k.SpeedMPS))
	}
	if k.WorkingM != nil {
		s += fmt.Sprintf("; they leave their working range (%s) %s below the crest", u.Temp(k.WorkingToC), u.Length(*k.WorkingM))
	}
	if k.FadeM != nil {
		s += fmt.Sprintf(", poor linings fade (%s) from %s on", u.Temp(k.FadeFromC), u.Length(*k.FadeM))
	}
	if k.SnubEveryS > 0 {
		rise := fmt.Sprintf("%.0f °C", math.Ceil(k.SnubRiseC))
		if u == US {
			rise = fmt.Sprintf("%.0f °F", math.Ceil(FDiffFromC(k.SnubRiseC)))
		}
		s += fmt.Sprintf("; snubbing puts in the same heat as dragging: each snub of %s adds about %s, one every %.0f s on the steepest part",
			u.Speed(k.SnubMPS), rise, math.Max(1, math.Floor(k.SnubEveryS)))
	}
	return s
}

// HeatCaseIn is the assumed use of the service brakes in words, in a unit system; an older
// catalogue has it in the survey's system only.
func (h *Hold) HeatCaseIn(u Units) string {
	if h.HeatFacts == nil {
		return h.HeatCase
	}
	return h.HeatFacts.Words(u)
}

// NoteIn is a ceiling's note in a unit system: its radius or sight distance in metres or feet.
func (l *SpeedCeiling) NoteIn(u Units) string {
	if u == Metric || l.LengthM <= 0 {
		return l.Note
	}
	return strings.Replace(l.Note, fmt.Sprintf("%.0f m", l.LengthM), u.HeightDown(l.LengthM), 1)
}

// Station writes a station: whole metres, or miles to 0.01.
func (u Units) Station(stationM float64) string {
	if u == US {
		return fmt.Sprintf("%.2f mi", MiFromM(stationM))
	}
	return fmt.Sprintf("%.0f m", stationM)
}
