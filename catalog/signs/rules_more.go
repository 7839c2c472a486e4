package signs

import (
	"fmt"
	"math"
)

// knownChoices are the questions that the planner can ask, with the answers it
// understands. A file may offer fewer.
var knownChoices = []struct {
	name    string
	options []string
}{
	{"between-rows", []string{"step", "nearest", "interpolate"}},
	{"above-last", []string{"last-row", "any-length"}},
	{"bench", []string{"bridge", "split"}},
	{"hill-length", []string{"descent", "stretch"}},
	{"figure", []string{"mean", "steepest-500", "steepest-100"}},
	{"downgrade-approach", []string{"level", "lengthen"}},
	{"sides", []string{"near", "both"}},
}

func (c *checker) choices(raw []rawChoice) []Choice {
	var out []Choice
	seen := map[string]bool{}
	for i, r := range raw {
		key := fmt.Sprintf("choice[%d]", i)
		var names, allowed []string
		for _, k := range knownChoices {
			names = append(names, k.name)
			if k.name == r.Name {
				allowed = k.options
			}
		}
		c.oneOf(key+".name", r.Name, names...)
		if seen[r.Name] {
			c.fault(key+".name", fmt.Sprintf("%q occurs twice", r.Name), "ask each question once")
		}
		seen[r.Name] = true
		ch := Choice{Name: r.Name, Question: c.text(key+".question", r.Question), Default: r.Default, Source: c.source(key+".source", r.Source)}
		found := false
		for j, o := range r.Option {
			if allowed != nil {
				c.oneOf(fmt.Sprintf("%s.option[%d].id", key, j), o.ID, allowed...)
			}
			ch.Options = append(ch.Options, Option{o.ID, c.text(fmt.Sprintf("%s.option[%d].words", key, j), o.Words)})
			found = found || o.ID == r.Default
		}
		if !found {
			c.fault(key+".default", fmt.Sprintf("%q is none of its options", r.Default), "name one of the options")
		}
		out = append(out, ch)
	}
	return out
}

func (c *checker) curve(r rawCurve) CurveRule {
	out := CurveRule{UnderByMPS: c.speed("curve.under_by", r.UnderBy, false), StepMPS: c.positive("curve.step", c.speed("curve.step", r.Step, false)),
		TurnUpToMPS: c.speed("curve.turn_up_to", r.TurnUpTo, true), GapM: c.length("curve.gap", r.Gap, false), Source: c.source("curve.source", r.Source)}
	for i, l := range r.Lateral {
		key := fmt.Sprintf("curve.lateral[%d]", i)
		lat := Lateral{c.speed(key+".up_to", l.UpTo, false), l.GravityShare}
		if !(l.GravityShare > 0 && l.GravityShare <= 0.5) {
			c.fault(key+".gravity_share", "not between 0 and 0.5", "give the lateral acceleration as a share of g, as in 0.21")
		}
		if n := len(out.Lateral); n > 0 && lat.UpToMPS <= out.Lateral[n-1].UpToMPS {
			c.fault(key+".up_to", "not above the row before", "order the rows by speed")
		}
		out.Lateral = append(out.Lateral, lat)
	}
	if len(r.Lateral) == 0 {
		c.fault("curve", "no lateral acceleration", "add a [[curve.lateral]]")
	}
	return out
}

func (c *checker) placement(r rawPlacement) Placing {
	out := Placing{Kind: c.oneOf("placement.kind", r.Kind, "deceleration", "band", "formula"),
		ReactionS: r.ReactionS, DecelMPS2: r.DecelMPS2, StopMPS2: r.StopMPS2,
		LegibleM: c.length("placement.legibility", r.Legibility, true), FloorM: c.length("placement.floor", r.Floor, false),
		StepM: c.positive("placement.step", c.length("placement.step", r.Step, false)), Source: c.source("placement.source", r.Source)}
	if r.Kind != "band" {
		c.positive("placement.reaction_s", r.ReactionS)
		c.positive("placement.deceleration_mps2", r.DecelMPS2)
		c.positive("placement.stop_deceleration_mps2", r.StopMPS2)
	}
	for i, a := range r.Advised {
		out.AdvisedMPS = append(out.AdvisedMPS, c.speed(fmt.Sprintf("placement.advised[%d]", i), a, false))
	}
	last := math.Inf(-1)
	for i, row := range r.Row {
		key := fmt.Sprintf("placement.row[%d]", i)
		p := PlacingRow{ApproachMPS: c.speed(key+".approach", row.Approach, false)}
		if p.ApproachMPS <= last {
			c.fault(key+".approach", "not above the row before", "order the rows by approach speed")
		}
		last = p.ApproachMPS
		if r.Kind == "band" {
			p.FromM, p.ToM = c.length(key+".from", row.From, false), c.length(key+".to", row.To, false)
			p.VisibleM = c.length(key+".visible", row.Visible, false)
			if p.ToM < p.FromM {
				c.fault(key+".to", "nearer than from", "swap the two")
			}
		}
		if len(row.Distances) > len(r.Advised) {
			c.fault(key+".distances", fmt.Sprintf("%d distances for %d advised speeds", len(row.Distances), len(r.Advised)),
				"give one distance for each advised speed under the approach speed, na where none is suggested")
		}
		for j, d := range row.Distances {
			if d == "na" {
				p.DistancesM = append(p.DistancesM, NoDistance)
				continue
			}
			p.DistancesM = append(p.DistancesM, c.length(fmt.Sprintf("%s.distances[%d]", key, j), d, false))
		}
		out.Rows = append(out.Rows, p)
	}
	if r.Kind != "formula" && len(r.Row) == 0 && r.Kind != "" {
		c.fault("placement", "no row", "add a [[placement.row]]")
	}
	return out
}

func (c *checker) listed(raw []rawListed, scheduled []SignType) []ListedSign {
	var out []ListedSign
	for i, l := range raw {
		key := fmt.Sprintf("listed[%d]", i)
		out = append(out, ListedSign{c.text(key+".designation", l.Designation), c.oneOf(key+".use", l.Use, ListedAudited, ListedOutOfScope),
			c.text(key+".words", l.Words), c.source(key+".source", l.Source)})
		for _, s := range scheduled {
			if s.is(l.Designation) {
				c.fault(key+".designation", fmt.Sprintf("%q is the designation of a [[sign]]", l.Designation), "list only what no rule schedules")
				break
			}
		}
	}
	return out
}
