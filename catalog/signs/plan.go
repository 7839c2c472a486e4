package signs

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// Input is the input of a schedule.
type Input struct {
	Descent routes.Descent
	Profile *routes.Profile
	Holds   []catalog.Hold // of the classes that run here; may be empty
	// PanelClasses are the classes of the weight-and-speed panel, at most five; empty
	// takes those of the rule set's country.
	PanelClasses []string
	Limits       []routes.SpeedLimit // posted limits of the route
	Sites        []catalog.Site      // that exist along the road; those not placed on it are left out
	// ApproachSpeedMPS is the 85th percentile or posted speed before the crest;
	// 0 takes the posted limit there.
	ApproachSpeedMPS float64
	// Choices answers the questions that the edition leaves open, by name; the
	// rule set's defaults answer the rest.
	Choices map[string]string
}

// Schedule is the answer: the warrants, the placements, and the choices that were made.
// Only Plan makes one: the zero Schedule has no grade line to draw or audit on.
type Schedule struct {
	RuleSet     string           `json:"rule_set"`
	Title       string           `json:"title"`
	Edition     string           `json:"edition"`
	Ours        bool             `json:"ours"` // no authority issued the rule set
	Units       string           `json:"legend_units"`
	DescentID   string           `json:"descent"`
	Route       string           `json:"route"`
	Name        string           `json:"name"`
	Direction   routes.Direction `json:"direction"`
	StartM      float64          `json:"start_m"`
	EndM        float64          `json:"end_m"`
	ApproachMPS float64          `json:"approach_speed_mps"`
	AdvisedMPS  float64          `json:"advised_speed_mps"` // of the slowest class that holds; 0 if none
	Choices     []ChoiceMade     `json:"choices"`
	Stretches   []Judgement      `json:"stretches"`
	Placements  []Placement      `json:"signs"`
	Panel       []PanelRow       `json:"panel"`
	Notes       []string         `json:"notes"`
	Cautions    []string         `json:"cautions"`
	Dropped     []Dropped        `json:"dropped"` // signs left out because others say as much
	Posts       []Post           `json:"posts"`   // from PlanPosts
	Road        RoadClass        `json:"-"`       // that the posts were planned for
	Mileposts   MilepostScale    `json:"-"`

	rules RuleSet
	line  *travel
}

// ChoiceMade is a question that the edition leaves open and the answer used.
type ChoiceMade struct {
	Name     string         `json:"name"`
	Question string         `json:"question"`
	Option   string         `json:"option"`
	Words    string         `json:"words"`
	Default  bool           `json:"default"` // not chosen: the rule set's default
	Source   catalog.Source `json:"source"`
}

// Plan judges one descent by one rule set and places the signs that follow.
//
// Errors: terrain.ErrInput for an unknown choice, a missing approach speed, or a
// descent that is not the profile's; terrain.ErrVoid where the grade line has a gap. It
// uses the profile's own error bound: a criterion within the bound comes out as
// CantTell and its signs carry that.
func Plan(in Input, rs RuleSet) (Schedule, error) {
	t, err := newTravel(&in.Descent, in.Profile)
	if err != nil {
		return Schedule{}, err
	}
	if math.IsInf(t.bound.MeanErrPct(1000, 0), 1) {
		return Schedule{}, &Fault{Kind: terrain.ErrInput, Feature: in.Descent.ID, What: "the grade line carries no error bound",
			Fix: "use a recovered profile; without a bound no criterion can be judged"}
	}
	d := &in.Descent
	s := Schedule{RuleSet: rs.ID, Title: rs.Title, Edition: rs.Edition, Ours: rs.Ours, Units: rs.Units, DescentID: d.ID, Route: d.Route,
		Name: d.Name, Direction: d.Direction, StartM: d.StartM, EndM: d.EndM, Choices: []ChoiceMade{}, Placements: []Placement{}, Posts: []Post{}, Dropped: []Dropped{}, Notes: []string{}, rules: rs, line: t}
	chosen, made, err := rs.choose(in.Choices)
	if err != nil {
		return Schedule{}, err
	}
	s.Choices = append(s.Choices, made...)
	if s.ApproachMPS, err = approach(&in, t); err != nil {
		return Schedule{}, err
	}
	onPanel, err := rs.panelHolds(&in)
	if err != nil {
		return Schedule{}, err
	}
	s.Panel, s.AdvisedMPS = panel(onPanel, rs.Units), slowestMPS(in.Holds, rs.Units)
	for _, w := range rs.Warrants {
		s.Stretches = append(s.Stretches, t.stretches(&rs, w, chosen)...)
	}
	for i := range s.Stretches {
		if rs.IsJudgement {
			s.Stretches[i].forJudgement()
		}
	}
	pl := &placer{rs: &rs, t: t, in: &in, s: &s, chosen: chosen, endErrM: math.Max(d.StartErrM, t.bound.EndM)}
	pl.placeAll()
	s.Placements = append(s.Placements, pl.out...)
	s.notes(&in, pl, onPanel)
	s.Cautions = append([]string{catalog.SignCaution, "The edition in force and the engineer in charge decide; " + rs.Edition + " was used here."}, catalog.Cautions()...)
	return s, nil
}

// choose uses the caller's answers, and defaults for the rest.
func (rs *RuleSet) choose(given map[string]string) (map[string]string, []ChoiceMade, error) {
	chosen := map[string]string{}
	var made []ChoiceMade
	for _, c := range rs.Choices {
		opt, byCaller := given[c.Name]
		if !byCaller {
			opt = c.Default
		}
		m := ChoiceMade{Name: c.Name, Question: c.Question, Option: opt, Default: !byCaller, Source: rs.source(c.Source)}
		var ids []string
		for _, o := range c.Options {
			ids = append(ids, o.ID)
			if o.ID == opt {
				m.Words = o.Words
			}
		}
		if m.Words == "" {
			return nil, nil, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q does not answer the choice %s: %s", opt, c.Name, c.Question),
				Fix: "use one of " + strings.Join(ids, ", ")}
		}
		chosen[c.Name] = opt
		made = append(made, m)
	}
	var unknown []string
	for name := range given {
		if _, ok := chosen[name]; !ok {
			unknown = append(unknown, name)
		}
	}
	if len(unknown) > 0 {
		sort.Strings(unknown)
		var names []string
		for _, c := range rs.Choices {
			names = append(names, c.Name)
		}
		return nil, nil, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%s has no question called %s", rs.ID, strings.Join(unknown, ", ")),
			Fix: "its questions are " + strings.Join(names, ", ")}
	}
	return chosen, made, nil
}

// approach is the speed before the crest: as given, else the posted limit there
// for all traffic, the higher where two cover it.
func approach(in *Input, t *travel) (float64, error) {
	v := in.ApproachSpeedMPS
	if v == 0 {
		for _, l := range in.Limits {
			applies := l.Forward && t.dir == routes.Forward || l.Backward && t.dir == routes.Backward
			if applies && !l.TruckOnly && l.FromM-1e-6 <= t.startM && t.startM <= l.ToM+1e-6 {
				v = math.Max(v, l.SpeedMPS)
			}
		}
	}
	if !(v > 0) || v > 70 {
		what := "no approach speed was given and no limit is posted at the crest"
		if v != 0 {
			what = fmt.Sprintf("%.0f m/s is not an approach speed", v)
		}
		return 0, &Fault{Kind: terrain.ErrInput, Feature: in.Descent.ID, StationM: &in.Descent.StartM, What: what,
			Fix: "state the 85th percentile or posted speed, as in 55mph"}
	}
	return v, nil
}

// notes adds in words what the rows can't show.
func (s *Schedule) notes(in *Input, pl *placer, onPanel []catalog.Hold) {
	add := func(format string, a ...any) { s.Notes = append(s.Notes, fmt.Sprintf(format, a...)) }
	if s.rules.Note != "" {
		add("%s", s.rules.Note)
	}
	s.Notes = append(s.Notes, s.panelNotes(onPanel, in.Holds)...)
	if s.AdvisedMPS == 0 {
		add("No class that holds was given, so advance distances are those for a stop, the longest of the table's kind.")
	}
	s.Notes = append(s.Notes, pl.checkAreaNotes()...)
	s.Notes = append(s.Notes, pl.candidateNotes()...)
	for _, d := range s.Dropped {
		add("%s.", d.Reason)
	}
	for _, role := range []string{RoleStart, RoleGear, RoleEnd} {
		if !pl.has(role) {
			add("%s has no sign for the role %q; none is scheduled.", s.rules.ID, role)
		}
	}
	_, benches := pl.t.pieces(false, s.rules.Bench)
	for _, b := range benches {
		if b.fromM > 0 && b.toM < pl.t.lenM { // easier ends are not benches
			add("Bench from station %s to %s: %.1f %% mean downgrade.", length(s.Units, pl.t.stationM(b.fromM)), length(s.Units, pl.t.stationM(b.toM)), pl.t.downPct(b.fromM, b.toM))
		}
	}
	switch r := in.Profile.Unreliable; { // for a profile from the catalogue only the descent's flag says so
	case !in.Profile.Reliable && r != "":
		add("The grade line is not reliable: %s.", r)
	case in.Descent.HasFlag(routes.FlagUnreliable):
		add("The grade line is not reliable: inspect the road before ordering anything from this schedule.")
	}
}
