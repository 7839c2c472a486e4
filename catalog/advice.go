package catalog

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// SurfaceWet is the surface whose exclusion makes a hold one for dry roads only.
const SurfaceWet = "wet"

// HoldsUpTo says up to which mass a hold goes: its own with what is to spare where it
// holds, since more than the class may weigh is no answer; else the heaviest that holds.
func (h *Hold) HoldsUpTo(u Units) string {
	switch {
	case h.Holds && h.HeaviestMassKg >= 2*h.MassKg:
		return u.MassDown(h.MassKg) + ", with over 100 % to spare"
	case h.Holds:
		return fmt.Sprintf("%s, with %.0f %% to spare", u.MassDown(h.MassKg), math.Floor(100*math.Max(0, h.HeaviestMassKg/h.MassKg-1)))
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

// EngineDragLever is what holds a truck without a retarder: it has no lever and no stage.
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

// name is the device's name without what a class says of its size after a comma.
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
// in travel. LimitedBy says what sets its speed, one of the Limit… values.
type HoldStretch struct {
	FromM     float64 `json:"from_m"`
	ToM       float64 `json:"to_m"`
	Gear      int     `json:"gear"`
	GearName  string  `json:"gear_name"`
	Levers    []Lever `json:"levers"`
	SpeedMPS  float64 `json:"speed_mps"`
	LimitedBy string  `json:"limited_by"`
}

// SurfaceAnswer says whether a hold's stage may be used on one kind of road surface:
// what it asks of the tyres when it is switched on, at the lightest mass that the
// hold is for, and what may be used there.
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

// HolderWord is what holds the truck: the retarder, or the engine's drag without one.
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

// StageWords says how the levers are set, for older catalogues the stage alone.
func (h *Hold) StageWords() string {
	if len(h.Levers) == 0 {
		if h.Stage == 0 {
			return "retarder off"
		}
		return fmt.Sprintf("stage %d", h.Stage)
	}
	return LeversWords(h.Levers)
}

// Charge is what a descent does to the battery of an electric or hybrid truck. The energy is
// the most that the hill can put in, the room what the battery takes from the charge at the
// crest on. Recuperation counts only where all of it fits.
type Charge struct {
	AtCrestPct      float64  `json:"at_crest_pct"`      // highest that the advice is for
	FullPct         float64  `json:"full_pct"`          // from here on the battery takes no more
	EnergyJ         float64  `json:"energy_j"`          // that the hill puts in at most, at MassKg
	RoomJ           float64  `json:"room_j"`            // that the battery takes from AtCrestPct on
	MostAtCrestPct  float64  `json:"most_at_crest_pct"` // highest charge at the crest from which all of it fits; below 0: none
	IsCounted       bool     `json:"counted"`
	IsTooCold       bool     `json:"too_cold"`           // not counted in air below freezing
	FullBelowCrestM *float64 `json:"full_below_crest_m"` // no later than where it is full; nil when counted
}

// CautionsIn are the answer's own cautions in a unit system; as the survey wrote them in
// older catalogues.
func (h *Hold) CautionsIn(u Units) []string {
	switch {
	case u == US && len(h.CautionsUS) > 0:
		return h.CautionsUS
	case u == Metric && len(h.CautionsMetric) > 0:
		return h.CautionsMetric
	}
	return h.Cautions
}
