package catalog

import (
	"slices"
	"strconv"
	"strings"
)

// feetAndInches writes "13 ft 6 in", "13'6\"", "70'" or "45\"" in one unit, feet or inches, where
// that is one of the units; other texts stay as they are.
func feetAndInches(s string, units []unit) string {
	hasFeet := slices.ContainsFunc(units, func(u unit) bool { return u.name == "ft" })
	hasInches := slices.ContainsFunc(units, func(u unit) bool { return u.name == "in" })
	if !hasFeet || len(s) > 40 {
		return s
	}
	t := strings.NewReplacer("′", "'", "’", "'", "″", `"`, "”", `"`, "feet", "ft", "inches", "in").Replace(strings.ToLower(s))
	t = strings.NewReplacer("ft", "'", "in", `"`).Replace(t)
	feet, rest, isFeet := strings.Cut(t, "'")
	if !isFeet {
		if inches, end, isInches := strings.Cut(t, `"`); isInches && end == "" && hasInches {
			return strings.TrimSpace(inches) + " in"
		}
		return s
	}
	feet, rest = strings.TrimSpace(feet), strings.TrimSpace(rest)
	if rest == "" {
		return feet + " ft"
	}
	inches, end, isInches := strings.Cut(strings.TrimPrefix(rest, "-"), `"`)
	f, okFeet := number(feet)
	i, okInches := number(strings.TrimSpace(inches))
	if !okInches {
		i, okInches = fraction(strings.TrimSpace(inches), "in")
	}
	if !isInches || end != "" || !okFeet || !okInches || i >= 12 || strings.Contains(feet, ".") {
		return s
	}
	return strconv.FormatFloat(f+i/12, 'f', -1, 64) + " ft"
}

// fraction reads inches as they are written on a rule: "1 3/4", "1-3/4" or "3/4".
func fraction(s, unitName string) (float64, bool) {
	if unitName != "in" && unitName != "inches" {
		return 0, false
	}
	whole, part, isMixed := strings.Cut(strings.Replace(s, "-", " ", 1), " ")
	if !isMixed {
		whole, part = "0", s
	}
	over, under, isPart := strings.Cut(strings.TrimSpace(part), "/")
	w, errW := strconv.ParseUint(whole, 10, 16)
	a, errA := strconv.ParseUint(over, 10, 16)
	b, errB := strconv.ParseUint(under, 10, 16)
	if !isPart || errW != nil || errA != nil || errB != nil || b == 0 || a >= b {
		return 0, false
	}
	return float64(w) + float64(a)/float64(b), true
}
