package wording

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// Radius writes a curve's radius in whole metres or feet, rounded down: the slow side.
func Radius(radiusM float64, u catalog.Units) string { return u.HeightDown(radiusM) }

// MostNameColumns is the most columns of a name in text for people; a page with a longer one is
// refused.
const MostNameColumns = 300

// CheckNames refuses a descent whose names are too long for a page: a page never cuts a name.
func CheckNames(d *routes.Descent) error {
	for _, name := range []string{d.ID, d.Name, d.Route} {
		if n := len([]rune(name)); n > MostNameColumns {
			return &catalog.Fault{Kind: terrain.ErrInput, Feature: Shortened(OneLine(d.ID), 60),
				What: fmt.Sprintf("its name or route has %d characters, and a page has room for %d", n, MostNameColumns), Fix: "shorten the name in the road file and survey it again"}
		}
	}
	return nil
}

// Title is the descent's name for people: its name, else its route, cut where it is longer
// than MostNameColumns.
func Title(d *routes.Descent) string {
	for _, s := range []string{d.Name, d.Route, d.ID} {
		if s = strings.TrimSpace(Plain(s)); s != "" {
			return Shortened(s, MostNameColumns)
		}
	}
	return "unnamed descent"
}

// Heading is the overall heading of a descent in words, from crest to foot.
func Heading(d *routes.Descent) string {
	dx := math.Remainder(d.FootLonDeg-d.CrestLonDeg, 360) * math.Cos((d.CrestLatDeg+d.FootLatDeg)/2*math.Pi/180)
	dy := d.FootLatDeg - d.CrestLatDeg
	if dx == 0 && dy == 0 || math.IsNaN(dx+dy) {
		return "heading unknown"
	}
	names := [8]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	i := int(math.Round(math.Atan2(dx, dy)/(math.Pi/4))+8) % 8
	return "heading " + names[i]
}

// Downgrade writes a downgrade to 0.1 %, or "unknown".
func Downgrade(pct float64) string {
	if math.IsNaN(pct) || math.IsInf(pct, 0) {
		return "unknown"
	}
	return fmt.Sprintf("%.1f %%", pct)
}

// MeanWithBound writes a mean downgrade with its 95 % half-width.
func MeanWithBound(d *routes.Descent) string {
	if math.IsNaN(d.MeanDowngradeErrPct) || math.IsInf(d.MeanDowngradeErrPct, 0) {
		return Downgrade(d.MeanDowngradePct) + " (bound unknown)"
	}
	return catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct)
}

// Window names the length of a steepest part.
func Window(u catalog.Units, lengthM int) string {
	if u == catalog.Metric {
		if lengthM >= 1000 {
			return fmt.Sprintf("%d km", lengthM/1000)
		}
		return fmt.Sprintf("%d m", lengthM)
	}
	switch lengthM {
	case 100:
		return "330 ft"
	case 500:
		return "1,600 ft"
	}
	return fmt.Sprintf("%.1f mi", catalog.MiFromM(float64(lengthM)))
}

// Duration writes a time in whole minutes, at least one.
func Duration(timeS float64) string {
	if !(timeS > 0) || math.IsInf(timeS, 0) {
		return "unknown"
	}
	m := int(math.Max(1, math.Round(timeS/60)))
	if m >= 60 {
		return fmt.Sprintf("%d h %02d min", m/60, m%60)
	}
	return fmt.Sprintf("%d min", m)
}
