package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// SurfaceWet is the surface whose exclusion makes a hold one for dry roads only.
const SurfaceWet = "wet"

// HoldsUpTo is the mass up to which a hold is valid, in words. Where it holds, that is its own
// mass, with the reserve as a percentage, since no truck of the class may be heavier; else it is
// the heaviest mass that holds.
func (h *Hold) HoldsUpTo(u Units) string {
	switch {
	case h.Holds && h.HeaviestMassKg >= 2*h.MassKg:
		return u.MassDown(h.MassKg) + ", with over 100 % to spare"
	case h.Holds:
		return fmt.Sprintf("%s, with %.0f %% to spare", u.MassDown(h.MassKg), math.Floor(100*math.Max(0, h.HeaviestMassKg/h.MassKg-1)))
	case h.HeaviestMassKg > 0 && h.LimitedBy == LimitFriction: // a stage that a lighter mass needs may lock its wheels
		return u.MassDown(h.HeaviestMassKg) + ", but not every mass below"
	case h.HeaviestMassKg > 0:
		return u.MassDown(h.HeaviestMassKg)
	}
	return "none"
}

// HoldsUpToKg is the mass of HoldsUpTo.
func (h *Hold) HoldsUpToKg() float64 {
	if h.Holds {
		return h.MassKg
	}
	return h.HeaviestMassKg
}

// Lever is one retarding device as the driver sets it; Stage 0 is off.
type Lever struct {
	Retarder string `json:"retarder"` // as the class names it
	Kind     string `json:"kind"`
	Stage    int    `json:"stage"`
	Stages   int    `json:"stages"`
}

// LeverEngineDrag is the kind of the one lever entry of a truck without a retarder.
const LeverEngineDrag = "engine drag"

// EngineDragLever stands for the engine drag that holds a truck without a retarder: it has no lever
// and no stage.
func EngineDragLever() Lever { return Lever{Retarder: "no retarder", Kind: LeverEngineDrag} }

// Words is the lever's setting: "compression brake at stage 2 of 3".
func (l *Lever) Words() string {
	if l.Kind == LeverEngineDrag {
		return "no retarder: foot off the fuel, engine drag alone"
	}
	if l.Stage == 0 {
		return l.name() + " off"
	}
	return fmt.Sprintf("%s at stage %d of %d", l.name(), l.Stage, l.Stages)
}

// name is the device's name without the size that a class file adds after a comma.
func (l *Lever) name() string {
	name, _, _ := strings.Cut(l.Retarder, ",")
	return name
}

// LeversWords joins the settings of all levers that are on; "retarder off" where none is.
func LeversWords(levers []Lever) string {
	var on []string
	for i := range levers {
		if levers[i].Stage > 0 || levers[i].Kind == LeverEngineDrag {
			on = append(on, levers[i].Words())
		}
	}
	if len(on) == 0 {
		return "retarder off"
	}
	return strings.Join(on, ", ")
}

// HoldStretch is the advice for one stretch of a descent. Stations are the route's,
// in travel. LimitedBy names the limit of its speed, one of the Limit… values.
type HoldStretch struct {
	FromM     float64 `json:"from_m"`
	ToM       float64 `json:"to_m"`
	Gear      int     `json:"gear"`
	GearName  string  `json:"gear_name"`
	Levers    []Lever `json:"levers"`
	SpeedMPS  float64 `json:"speed_mps"`
	LimitedBy string  `json:"limited_by"`

	Slowing *Slowing `json:"slowing,omitempty"` // on a stretch on which cold service brakes slow the truck for a curve
}

// Slowing is a planned use of cold service brakes on a stretch. They take the truck from the speed of
// the stretch before to that of this one, and hold it there until its gear is in.
type Slowing struct {
	FromSpeedMPS      float64 `json:"from_speed_mps"`       // speed of the stretch before
	ServiceBrakeTempC float64 `json:"service_brake_temp_c"` // after all slowings of the hill so far, nothing cooled in between
}

// SlowingTempC is the highest temperature of the service brakes after the planned slowings; false
// without one.
func (h *Hold) SlowingTempC() (tempC float64, ok bool) {
	for i := range h.Stretches {
		if s := h.Stretches[i].Slowing; s != nil {
			tempC, ok = math.Max(tempC, s.ServiceBrakeTempC), true
		}
	}
	return tempC, ok
}

// SurfaceAnswer says whether a hold's stage may be used on one kind of road surface. It has the
// friction that the stage needs when it is switched on, at the lightest mass that the hold is for,
// and the friction that may be used there.
type SurfaceAnswer struct {
	Surface         string  `json:"surface"`
	Allowed         bool    `json:"allowed"`
	FrictionApplied float64 `json:"friction_applied"`
	FrictionAllowed float64 `json:"friction_allowed"`
}

// Sentence is the answer in one plain sentence.
func (s *SurfaceAnswer) Sentence() string {
	name := strings.ToUpper(s.Surface[:1]) + s.Surface[1:]
	if s.Allowed {
		return fmt.Sprintf("%s: the advised stage may be used (it needs a friction of %.2f, %.2f may be used).",
			name, ShownFriction(s.FrictionApplied), math.Floor(s.FrictionAllowed*100+1e-9)/100)
	}
	return fmt.Sprintf("%s: NOT by this advice; the stage when switched on needs a friction of %.2f, only %.2f may be used.",
		name, ShownFriction(s.FrictionApplied), math.Floor(s.FrictionAllowed*100+1e-9)/100)
}

// ShownFriction is a friction needed as printed: rounded up to 0.01.
func ShownFriction(friction float64) float64 { return math.Ceil(friction*100-1e-9) / 100 }

// IsDryRoadOnly reports whether the hold may be used on a dry road only. It is to be
// printed as loudly as a hill that is not held.
func (h *Hold) IsDryRoadOnly() bool {
	return h.Holds && slices.Contains(h.SurfacesOut, SurfaceWet)
}

// DryRoadOnly is the flag as printed.
const DryRoadOnly = "DRY ROAD ONLY"

// GearLabel names the advised gear as on its lever or display; the count of older
// catalogues where they keep no name.
func (h *Hold) GearLabel() string { return GearLabel(h.GearName, h.Gear) }

// HolderWord names what holds the truck: the retarder, or the engine's drag without one.
func (h *Hold) HolderWord() string {
	if len(h.Levers) > 0 && h.Levers[0].Kind == LeverEngineDrag {
		return "engine drag"
	}
	return "retarder"
}

// GearLabel names the stretch's gear as on its lever or display.
func (s *HoldStretch) GearLabel() string { return GearLabel(s.GearName, s.Gear) }

// GearLabel names a gear as on its lever or display; by its count where no name is kept.
func GearLabel(name string, gear int) string {
	if name == "" {
		return fmt.Sprint(gear)
	}
	return name
}

// StageWords is the setting of the levers in words; for older catalogues the stage alone.
func (h *Hold) StageWords() string {
	if len(h.Levers) == 0 {
		if h.Stage == 0 {
			return "retarder off"
		}
		return fmt.Sprintf("stage %d", h.Stage)
	}
	return LeversWords(h.Levers)
}

// Charge is the effect of a descent on the battery of an electric or hybrid truck. It has the most
// energy that the hill can supply, and the energy that the battery can still store at the crest.
// Recuperation counts only where all of the energy fits.
type Charge struct {
	AtCrestPct      float64  `json:"at_crest_pct"`      // highest that the advice is for
	FullPct         float64  `json:"full_pct"`          // charge at which the battery is full
	EnergyJ         float64  `json:"energy_j"`          // most energy that the hill supplies, at MassKg
	RoomJ           float64  `json:"room_j"`            // energy that the battery can store from AtCrestPct on
	MostAtCrestPct  float64  `json:"most_at_crest_pct"` // highest charge at the crest from which all of it fits; below 0: none
	IsCounted       bool     `json:"counted"`
	IsTooCold       bool     `json:"too_cold"`           // not counted in air below freezing
	FullBelowCrestM *float64 `json:"full_below_crest_m"` // station by which the battery is full at the latest; nil when counted
}

// CautionsIn are the answer's own cautions in a unit system; older catalogues have them in one
// system only.
func (h *Hold) CautionsIn(u Units) []string {
	switch {
	case u == US && len(h.CautionsUS) > 0:
		return h.CautionsUS
	case u == Metric && len(h.CautionsMetric) > 0:
		return h.CautionsMetric
	}
	return h.Cautions
}
