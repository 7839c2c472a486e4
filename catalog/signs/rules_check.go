package signs

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

// checker turns the file's text into a RuleSet and collects every fault.
type checker struct {
	file    string
	lines   map[string]int
	faults  []error
	sources map[string]bool
}

// fault records one fault at the line of key, or of its table.
func (c *checker) fault(key, what, fix string) {
	f := &Fault{Kind: terrain.ErrInput, File: c.file, What: key + ": " + what, Fix: fix}
	for k := key; k != ""; {
		if n, ok := c.lines[k]; ok {
			f.Feature = fmt.Sprintf("line %d", n)
			break
		}
		i := strings.LastIndexAny(k, ".")
		if i < 0 {
			break
		}
		k = k[:i]
	}
	c.faults = append(c.faults, f)
}

func (c *checker) text(key, v string) string {
	if strings.TrimSpace(v) == "" {
		c.fault(key, "missing", "give it a text")
	}
	return v
}

func (c *checker) oneOf(key, v string, allowed ...string) string {
	for _, a := range allowed {
		if v == a {
			return v
		}
	}
	c.fault(key, fmt.Sprintf("%q is not known here", v), "use one of "+strings.Join(allowed, ", "))
	return v
}

// quantity reads v with parse; an empty v is 0 where it may be left out.
func (c *checker) quantity(key, v string, optional bool, parse func(string) (float64, error)) float64 {
	if v == "" {
		if !optional {
			c.fault(key, "missing", "give it with its unit")
		}
		return 0
	}
	x, err := parse(v)
	if err != nil {
		what, fix := err.Error(), "give a number with its unit"
		if f, ok := err.(*Fault); ok {
			what, fix = f.What, f.Fix
		}
		c.fault(key, what, fix)
	}
	return x
}

func (c *checker) length(key, v string, optional bool) float64 {
	return c.quantity(key, v, optional, catalog.LengthM)
}

func (c *checker) pct(key, v string, optional bool) float64 {
	return c.quantity(key, v, optional, catalog.DowngradePct)
}

// speed reads a speed; 0 with a unit is a stop and allowed.
func (c *checker) speed(key, v string, optional bool) float64 {
	return c.quantity(key, v, optional, func(s string) (float64, error) {
		for _, zero := range []string{"0mph", "0km/h", "0m/s"} {
			if s == zero {
				return 0, nil
			}
		}
		return catalog.SpeedMPS(s)
	})
}

func (c *checker) source(key, v string) string {
	if !c.sources[v] {
		c.fault(key, fmt.Sprintf("no [[source]] has the key %q", v), "name one of the file's sources")
	}
	return v
}

func (c *checker) positive(key string, v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		c.fault(key, "not a positive number", "give a number above 0")
	}
	return v
}

func (c *checker) ruleSet(raw *rawSet) RuleSet {
	rs := RuleSet{ID: c.text("id", raw.ID), Title: c.text("title", raw.Title), Edition: c.text("edition", raw.Edition),
		Note: raw.Note, Ours: raw.Ours, Country: raw.Country, Shows: raw.Shows}
	c.oneOf("schema", raw.Schema, RulesSchema)
	rs.Units = c.oneOf("units", raw.Units, "us", "uk", "metric")
	rs.Side = c.oneOf("side", raw.Side, "right", "left")
	c.sources = map[string]bool{}
	for i, s := range raw.Source {
		key := fmt.Sprintf("source[%d]", i)
		c.text(key+".document", s.Document)
		c.oneOf(key+".status", s.Status, StatusPublished, StatusSecondHand, StatusMemory, StatusComputed, StatusPractice, StatusOurs)
		if c.sources[c.text(key+".key", s.Key)] {
			c.fault(key+".key", fmt.Sprintf("%q occurs twice", s.Key), "give each source its own key")
		}
		c.sources[s.Key] = true
		rs.Sources = append(rs.Sources, catalog.Source(s))
	}
	rs.Choices = c.choices(raw.Choice)
	warrants := map[string]bool{}
	for i, w := range raw.Warrant {
		if warrants[w.ID] {
			c.fault(fmt.Sprintf("warrant[%d].id", i), fmt.Sprintf("%q occurs twice", w.ID), "give each warrant its own id")
		}
		warrants[w.ID] = true
		rs.Warrants = append(rs.Warrants, c.warrant(fmt.Sprintf("warrant[%d]", i), w))
	}
	if len(raw.Warrant) == 0 {
		c.fault("warrant", "no warrant at all", "add a [[warrant]] with its rows")
	}
	warningShape := c.oneOf("warning_shape", cmp.Or(raw.WarningShape, ShapeDiamond), shapes...)
	for i, s := range raw.Sign {
		t := c.sign(fmt.Sprintf("sign[%d]", i), s, warrants)
		t.Shape = c.oneOf(fmt.Sprintf("sign[%d].shape", i), cmp.Or(s.Shape, shapeOfRole(s.Role, warningShape)), shapes...)
		rs.Signs = append(rs.Signs, t)
	}
	if len(raw.Sign) == 0 {
		c.fault("sign", "no sign at all", "add a [[sign]]")
	}
	rs.Rounding = Rounding{c.oneOf("rounding.grade", raw.Rounding.Grade, "nearest", "up", "down"), c.source("rounding.source", raw.Rounding.Source)}
	rs.Bench = BenchRule{c.pct("bench.below", raw.Bench.Below, false), c.length("bench.longer_than", raw.Bench.LongerThan, false),
		c.source("bench.source", raw.Bench.Source)}
	rs.Spacing = SpacingRule{c.length("spacing.least", raw.Spacing.Least, false), c.source("spacing.source", raw.Spacing.Source)}
	rs.Sight = SightRule{c.length("sight.distance", raw.Sight.Distance, raw.Placement.Kind == "band"),
		c.length("sight.clear_offset", raw.Sight.ClearOffset, false), c.source("sight.source", raw.Sight.Source)}
	rs.Curve = c.curve(raw.Curve)
	rs.Placement = c.placement(raw.Placement)
	keys := make([]string, 0, len(raw.Shows))
	for k := range raw.Shows {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		c.oneOf("shows."+k, raw.Shows[k], "grade", "length", "speed")
	}
	for i, o := range raw.Older {
		key := fmt.Sprintf("older[%d]", i)
		rs.Older = append(rs.Older, OlderCode{c.text(key+".edition", o.Edition), c.text(key+".was", o.Was), c.text(key+".now", o.Now)})
	}
	rs.Listed = c.listed(raw.Listed, rs.Signs)
	rs.Roads = c.roads(raw.Road)
	rs.Sizes = c.sizes(raw.Size, rs.Roads)
	rs.Combinations = c.combinations(raw.Combination, rs.Signs)
	rs.IsJudgement = c.oneOf("mode", cmp.Or(raw.Mode, "warrants"), "warrants", "judgement") == "judgement"
	return rs
}

func (c *checker) warrant(key string, w rawWarrant) Warrant {
	out := Warrant{ID: c.text(key+".id", w.ID), Words: c.text(key+".words", w.Words), InPart: w.InPart,
		ShortestM: c.length(key+".shortest", w.Shortest, false), Source: c.source(key+".source", w.Source)}
	if len(w.Row) == 0 {
		c.fault(key, "no row", "add a [[warrant.row]] with a grade")
	}
	for i, r := range w.Row {
		rk := fmt.Sprintf("%s.row[%d]", key, i)
		row := Row{LongerThanM: c.length(rk+".longer_than", r.LongerThan, true)}
		switch {
		case (r.GradeFrom == "") == (r.GradeOver == ""):
			c.fault(rk, "needs either grade_from (met) or grade_over (exceeded)", "give one of the two")
		case r.GradeOver != "":
			row.Over, row.GradePct = true, c.pct(rk+".grade_over", r.GradeOver, false)
		default:
			row.GradePct = c.pct(rk+".grade_from", r.GradeFrom, false)
		}
		if n := len(out.Rows); n > 0 && row.GradePct <= out.Rows[n-1].GradePct {
			c.fault(rk, "its grade is not above the row before", "order the rows from the easiest grade to the steepest")
		} else if n > 0 && row.LongerThanM > out.Rows[n-1].LongerThanM {
			c.fault(rk, "a steeper row asks for more length than an easier one", "check the two lengths")
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

func (c *checker) sign(key string, s rawSign, warrants map[string]bool) SignType {
	out := SignType{Role: s.Role, Variant: s.Variant, Warrant: s.Warrant, Designation: c.text(key+".designation", s.Designation),
		Also: s.Also, Name: c.text(key+".name", s.Name), Plaques: s.Plaques, Legend: s.Legend, Advice: s.Advice,
		DistanceM: c.length(key+".distance", s.Distance, true), EveryM: c.length(key+".every", s.Every, true),
		LeastLeftM: c.length(key+".least_remaining", s.LeastRemaining, true), SteeperByPct: c.pct(key+".steeper_by", s.SteeperByPct, true),
		ApartM: c.length(key+".apart", s.Apart, true), ApartUnlessPct: c.pct(key+".apart_unless_steeper_by", s.ApartUnlessPct, true),
		Source: c.source(key+".source", s.Source)}
	c.oneOf(key+".role", s.Role, RolePanel, RoleCheckAdvance, RoleCheck, RoleChainAdvance, RoleChain, RoleAdvance, RoleStart, RoleRepeat, RoleSteepest,
		RoleGear, RoleCurve, RoleRampAdvance, RoleRamp, RoleEnd)
	if s.Role == RoleCurve {
		c.oneOf(key+".variant", s.Variant, "turn", "curve", "reverse-turn", "reverse-curve", "winding")
	}
	needs := s.Role == RoleAdvance || s.Role == RoleStart || s.Role == RoleRepeat || s.Role == RoleSteepest
	if needs && !warrants[s.Warrant] {
		c.fault(key+".warrant", fmt.Sprintf("no [[warrant]] has the id %q", s.Warrant), "name one of the file's warrants")
	}
	if s.Role == RoleRepeat && out.EveryM < 50 {
		c.fault(key+".every", "repeats nearer than 50 m, or no interval", "give the interval, as in 1mi")
	}
	if slices.Contains([]string{RoleRampAdvance, RoleCheckAdvance, RoleChainAdvance, RolePanel}, s.Role) && s.Distance == "" {
		c.fault(key+".distance", "missing", "state its distance ahead, as in 1mi")
	}
	for rest := s.Legend; ; {
		_, tail, ok := strings.Cut(rest, "{")
		if !ok {
			break
		}
		word, after, _ := strings.Cut(tail, "}")
		c.oneOf(key+".legend", word, "grade", "length", "remaining", "speed", "distance")
		rest = after
	}
	return out
}
