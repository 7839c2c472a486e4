package signs

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gradeline/catalog"
)

// figures compares the figures of an existing sign with the scheduled ones. It does not judge a
// figure that is not on the sign or not in the inventory.
func (a *auditor) figures(p *Placement, st *Standing) []string {
	var out []string
	for _, why := range []string{a.wrongGrade(p, st), a.wrongLength(p, st), a.wrongSpeed(p, st)} {
		if why != "" {
			out = append(out, why)
		}
	}
	return out
}

// wrongGrade describes the fault in the grade that a sign shows; "" without one.
func (a *auditor) wrongGrade(p *Placement, st *Standing) string {
	text := a.shown(st, "grade", st.Grade)
	if text == "" || p.GradePct == nil {
		return ""
	}
	g, ok := gradeFrom(text)
	switch {
	case !ok:
		return fmt.Sprintf("its grade reads %q, which is not a grade; %.0f %% is due", text, *p.GradePct)
	case math.Round(g) < p.GradeLowPct || math.Round(g) > p.GradeHiPct:
		return fmt.Sprintf("shows %g %%, %.0f %% is due (%.0f to %.0f %% within the bound)", g, *p.GradePct, p.GradeLowPct, p.GradeHiPct)
	}
	return ""
}

// wrongLength describes the fault in the length that a sign shows; "" without one.
func (a *auditor) wrongLength(p *Placement, st *Standing) string {
	text, units := a.shown(st, "length", st.Length), a.s.Units
	if text == "" || p.LengthM == nil {
		return ""
	}
	l, ok := lengthFrom(text, units)
	step := 0.26 * catalog.MileM
	if units == "metric" {
		step = 110
	}
	due, _ := legendLength(units, *p.LengthM)
	switch {
	case !ok:
		return fmt.Sprintf("its length reads %q, which is not a length; %s is due", text, due)
	case math.Abs(l-*p.LengthM) > math.Max(step, 0.1**p.LengthM)+p.ErrM:
		got, _ := legendLength(units, l)
		return fmt.Sprintf("shows %s, %s is due", got, due)
	}
	return ""
}

// wrongSpeed describes the fault in the speed that a sign shows; "" without one.
func (a *auditor) wrongSpeed(p *Placement, st *Standing) string {
	text, units := a.shown(st, "speed", st.Speed), a.s.Units
	if text == "" || p.SpeedMPS == nil {
		return ""
	}
	v, ok := speedFrom(text, units)
	due := legendSpeed(units, *p.SpeedMPS)
	switch {
	case !ok:
		return fmt.Sprintf("its speed reads %q, which is not a speed; %s is due", text, due)
	case math.Abs(v-*p.SpeedMPS) > a.s.rules.Curve.StepMPS-1e-3:
		way := "lower than"
		if v > *p.SpeedMPS {
			way = "more than"
		}
		return fmt.Sprintf("shows %s, %s the %s that its curve allows", legendSpeed(units, v), way, due)
	}
	return ""
}

// shown is the text of one figure: from the inventory's column, else the value in brackets after
// the designation that shows that figure.
func (a *auditor) shown(st *Standing, kind, column string) string {
	if column != "" {
		return column
	}
	for i, c := range st.Codes {
		for code, k := range a.s.rules.Shows {
			if k == kind && strings.EqualFold(code, c) && st.Values[i] != "" {
				return st.Values[i]
			}
		}
	}
	return ""
}

// gradeFrom reads "6", "6 %" or an old ratio, "1:8" and "1 in 8".
func gradeFrom(text string) (float64, bool) {
	s := strings.ToLower(strings.ReplaceAll(text, " ", ""))
	for _, sep := range []string{":", "in"} {
		if one, run, ok := strings.Cut(s, sep); ok {
			a, okA := plain(one)
			b, okB := plain(run)
			return 100 * a / b, okA && okB && b > 0
		}
	}
	g, ok := plain(strings.TrimSuffix(s, "%"))
	return math.Abs(g), ok && g > -100 && g < 100
}

// lengthFrom reads "5", "5 miles", "1/2 mile", "1 1/2 mi", "800 m" or "500 yds";
// a bare number is miles, or kilometres in metric sets.
func lengthFrom(text, units string) (float64, bool) {
	s := strings.ToLower(strings.TrimSpace(text))
	per := catalog.MileM
	if units == "metric" {
		per = 1000
	}
	for _, u := range []struct {
		name string
		m    float64
	}{{"miles", catalog.MileM}, {"mile", catalog.MileM}, {"mi", catalog.MileM}, {"km", 1000}, {"feet", catalog.FootM}, {"ft", catalog.FootM}, {"yards", catalog.YardM}, {"yds", catalog.YardM}, {"yd", catalog.YardM}, {"m", 1}} {
		if rest, ok := strings.CutSuffix(s, u.name); ok {
			s, per = strings.TrimSpace(rest), u.m
			break
		}
	}
	sum := 0.0
	words := strings.Fields(s)
	for _, w := range words {
		top, under, isFraction := strings.Cut(w, "/")
		a, ok := plain(top)
		if isFraction {
			b, okB := plain(under)
			if !okB || b == 0 {
				return 0, false
			}
			a /= b
		}
		if !ok {
			return 0, false
		}
		sum += a
	}
	return sum * per, len(words) > 0 && len(words) <= 2 && sum > 0 && !math.IsInf(sum*per, 0)
}

// speedFrom reads "35", "35 mph" or "50 km/h"; a bare number is the set's own unit.
func speedFrom(text, units string) (float64, bool) {
	s := strings.ReplaceAll(text, " ", "")
	if v, ok := plain(s); ok {
		return v * people(units).SpeedUnitMPS(), v > 0
	}
	v, err := catalog.SpeedMPS(s)
	return v, err == nil
}

// plain reads a plain decimal number: no exponent, no NaN, no hexadecimal.
func plain(s string) (float64, bool) {
	if s == "" || len(s) > 12 || strings.Trim(s, "0123456789.-") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}
