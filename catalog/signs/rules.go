// Package signs computes which hill signs a descent warrants under a named edition, their places,
// the text of a weight-and-speed panel and of escape ramp signs, and a comparison with the existing
// signs.
//
// It computes a schedule for a licensed engineer to decide, not a permission to
// post. Rule sets are data, by edition: see RuleSets and ParseRuleSet. Stations
// are metres from the route line's first vertex whatever the direction;
// downgrades are positive per cent.
//
// In go a descent, its grade line, holds, sites and a rule set (Plan), or an inventory of
// standing signs (ParseStanding, AuditStanding); out come values in SI with the source of
// each figure, and tables in feet or metres. Every place carries a 95 % half-width; what
// the bound leaves open is CantTell, never a verdict. Errors are *catalog.Fault: ErrInput
// for what cannot be read or chosen, ErrVoid for a gap in the grade line.
package signs

import (
	"strings"

	"gradeline/catalog"
)

// RulesSchema names the format of rule set files.
const RulesSchema = "gradeline-signs/1"

// Statuses that a source can carry.
const (
	StatusPublished  = "published"       // the text was seen
	StatusSecondHand = "second-hand"     // seen quoted elsewhere
	StatusMemory     = "from memory"     // well known, not seen
	StatusComputed   = "computed"        // arithmetic from a stated formula
	StatusPractice   = "common practice" // a fact of the trade without a source
	StatusOurs       = "ours"            // this project's own figure
	StatusGiven      = "given"           // by who asked
)

// RuleSet is one edition's rules. Lengths are metres, speeds metres per second,
// grades per cent, whatever the file's own units.
type RuleSet struct {
	ID      string
	Title   string
	Edition string
	Note    string
	Ours    bool   // no authority issued it
	Country string // prefix of its weight classes' ids, as in "us"; empty for any
	Units   string // of legends: "us", "uk" or "metric"
	Side    string // the near side: "right" or "left"

	Sources   []catalog.Source
	Choices   []Choice
	Warrants  []Warrant
	Signs     []SignType
	Rounding  Rounding
	Bench     BenchRule
	Spacing   SpacingRule
	Sight     SightRule
	Curve     CurveRule
	Placement Placing
	Shows     map[string]string // designation → "grade", "length" or "speed"
	Older     []OlderCode
	Listed    []ListedSign
	Roads     []RoadClass // kinds of road that sizes and post offsets depend on; the first is the default
	Sizes     []Size
	// Combinations list the signs that some signs need next to them.
	Combinations []Combination
	// IsJudgement is true where the standard has no numeric warrant: candidates are listed
	// with their figures, and nothing is called warranted.
	IsJudgement bool
}

// Choice is a question that a standard leaves open, with its possible answers.
type Choice struct {
	Name     string
	Question string
	Default  string
	Options  []Option
	Source   string
}

// Option is one answer to a choice.
type Option struct{ ID, Words string }

// Warrant is a criterion: any row met warrants the sign.
type Warrant struct {
	ID        string
	Words     string
	ShortestM float64 // measured over at least this, where a row names no length
	InPart    bool    // the grade in any part, the length of the complete hill
	Rows      []Row
	Source    string
}

// Row is one pair of a grade and a length. Over is true where the grade must be
// exceeded and not only met. LongerThanM 0 means that no length is named.
type Row struct {
	GradePct    float64
	Over        bool
	LongerThanM float64
}

// SignType is one kind of sign and its place.
type SignType struct {
	Role           string // one of the Role… values
	Variant        string // of a curve sign
	Warrant        string // the warrant that calls for it; empty where the role's own facts do
	Designation    string
	Also           []string // designations that an audit takes as the same sign
	Name           string
	Plaques        []string
	Legend         string  // with {grade} {length} {remaining} {speed} {distance}
	DistanceM      float64 // upstream of its anchor; 0 where the placement table or the anchor itself decides
	EveryM         float64 // between repeats
	LeastLeftM     float64 // no repeat with less than this remaining
	SteeperByPct   float64 // whole per cent over the hill's own figure
	ApartM         float64 // from the sign of the same designation before it
	ApartUnlessPct float64 // unless the grade grows by this many per cent
	Advice         bool    // advice to an engineer rather than a sign of the edition
	Shape          string  // of its face on drawings, one of the Shape… values
	Source         string
}

// The roles that a sign can have on a hill.
const (
	RolePanel        = "panel"
	RoleCheckAdvance = "brake-check-advance"
	RoleCheck        = "brake-check"
	RoleChainAdvance = "chain-up-advance"
	RoleChain        = "chain-up"
	RoleAdvance      = "advance"
	RoleStart        = "start"
	RoleRepeat       = "repeat"
	RoleSteepest     = "steepest"
	RoleGear         = "gear"
	RoleCurve        = "curve"
	RoleRampAdvance  = "ramp-advance"
	RoleRamp         = "ramp"
	RoleEnd          = "end"
)

// Rounding is the edition's rule for the grade on a sign: "nearest", "up" or "down".
type Rounding struct{ Grade, Source string }

// BenchRule defines an easier stretch that can separate two hills.
type BenchRule struct {
	BelowPct    float64
	LongerThanM float64
	Source      string
}

// SpacingRule is the least distance between two signs on one side.
type SpacingRule struct {
	LeastM float64
	Source string
}

// SightRule says from how far a sign must be seen and how far from the road's
// line the view is clear. DistanceM 0 leaves it to the placement bands.
type SightRule struct {
	DistanceM    float64
	ClearOffsetM float64
	Source       string
}

// CurveRule turns a radius into an advisory speed.
type CurveRule struct {
	UnderByMPS  float64 // a sign is due where the advisory speed is at least this much lower
	StepMPS     float64 // advisory speeds are multiples of this
	TurnUpToMPS float64 // up to this speed the sign is the turn variant; 0 if none
	GapM        float64 // curves nearer than this share a sign
	Lateral     []Lateral
	Source      string
}

// Lateral is the lateral acceleration allowed up to a speed, as a share of g.
type Lateral struct{ UpToMPS, GravityShare float64 }

// Placing is the distance of a sign upstream of its condition.
type Placing struct {
	Kind       string // "deceleration", "band" or "formula"
	ReactionS  float64
	DecelMPS2  float64
	StopMPS2   float64
	LegibleM   float64 // the sign is legible from this distance, so it is that much nearer
	FloorM     float64
	StepM      float64
	AdvisedMPS []float64
	Rows       []PlacingRow
	Source     string
}

// PlacingRow is one row of a placement table. Distances are in the columns of the advised speeds;
// NoDistance where the table suggests none.
type PlacingRow struct {
	ApproachMPS float64
	DistancesM  []float64
	FromM, ToM  float64 // kind "band": at the lower and the upper end of the band
	VisibleM    float64
}

// NoDistance marks a cell for which the edition suggests no distance.
const NoDistance = -1.0

// OlderCode is a designation that meant another sign in an earlier edition.
type OlderCode struct{ Edition, Was, Now string }

// ListedSign is a sign of the edition that no rule schedules: an audit knows it and says
// what it is for.
type ListedSign struct {
	Designation string
	Use         string // ListedAudited or ListedOutOfScope
	Words       string
	Source      string
}

// What is done with a sign that is listed and not scheduled.
const (
	ListedAudited    = "audited"      // it belongs to hills; an engineer judges it
	ListedOutOfScope = "out of scope" // it is for something other than a downgrade
)

// listed finds a sign of the edition that no rule schedules.
func (rs *RuleSet) listed(code string) (ListedSign, bool) {
	for _, l := range rs.Listed {
		if strings.EqualFold(l.Designation, code) {
			return l, true
		}
	}
	return ListedSign{}, false
}

// source finds a source by its key; an empty Source if none (the reader refuses that).
func (rs *RuleSet) source(key string) catalog.Source {
	for _, s := range rs.Sources {
		if s.Key == key {
			return s
		}
	}
	return catalog.Source{}
}
