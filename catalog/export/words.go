package export

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"unicode"

	"gradeline/catalog"
	"gradeline/routes"
)

// Answer is what is known of a class on a descent. The zero value is Unknown.
type Answer uint8

// The three answers.
const (
	Unknown Answer = iota // no hold computed, or one that rests on an unreliable profile
	Held
	NotHeld
)

func (a Answer) String() string {
	switch a {
	case Held:
		return "holds"
	case NotHeld:
		return "NOT HELD"
	}
	return "unknown"
}

// AnswerFor says whether a class holds on an entry, with the hold it rests on
// (nil where none was computed) and, where the answer is Unknown, why.
//
// A hold over a profile flagged unreliable counts as Unknown until somebody has
// field-checked the descent: nobody should be sent down on it.
func AnswerFor(e *catalog.Entry, classID string) (a Answer, h *catalog.Hold, why string) {
	for i := range e.Holds {
		if e.Holds[i].Class == classID {
			h = &e.Holds[i]
			break
		}
	}
	switch {
	case h == nil:
		return Unknown, nil, "no hold was computed for this class"
	case !h.Holds:
		return NotHeld, h, ""
	case e.Descent.HasFlag(routes.FlagUnreliable) && !IsFieldChecked(e):
		return Unknown, h, "the profile under it is unreliable and not field-checked"
	}
	return Held, h, ""
}

// IsFieldChecked reports whether somebody is on record as having been there.
// An approval alone is not: it may have been given at a desk.
func IsFieldChecked(e *catalog.Entry) bool {
	return e.Review.State == catalog.FieldChecked || e.Review.MeasuredGradePct != nil ||
		e.Provenance.FieldState == string(catalog.FieldChecked)
}

// ReviewLine says where the review stands, by whom and when, and whether it is
// in question.
func ReviewLine(e *catalog.Entry) string {
	state := string(e.Review.State)
	if state == "" {
		state = string(catalog.Surveyed)
	}
	s := "Review: " + state
	if e.Review.By != "" {
		s += " by " + plain(e.Review.By)
	}
	if !e.Review.At.IsZero() {
		s += " on " + e.Review.At.Format("2006-01-02")
	}
	switch {
	case !IsFieldChecked(e):
		s += "; not field-checked"
	case e.Review.MeasuredGradePct != nil:
		s += fmt.Sprintf("; field-checked, measured downgrade %.1f %%", math.Abs(*e.Review.MeasuredGradePct))
	case e.Review.State != catalog.FieldChecked:
		s += "; field-checked"
	}
	if e.Review.InQuestion != "" {
		s += "; IN QUESTION: " + plain(e.Review.InQuestion)
	}
	return s + "."
}

// namelessCRS is where a raster's line in the provenance, which is kept as it is to be
// compared with later ones, names no coordinate system or calls it unknown.
var namelessCRS = regexp.MustCompile(`(?i) \((?:unknown|unnamed)?, cell `)

// SourceLine says what an entry was made from, by what and when.
func SourceLine(p catalog.Provenance) string {
	rasters := "elevation source unknown"
	if n := len(p.Rasters); n > 0 {
		rasters = namelessCRS.ReplaceAllString(strings.Join(p.Rasters[:min(n, 2)], " + "), " (coordinate system without a name, cell ")
		if n > 2 {
			rasters += fmt.Sprintf(" + %d more", n-2)
		}
	}
	parts := []string{"Elevation: " + rasters}
	if p.VertDatum != "" {
		parts = append(parts, "vertical datum "+p.VertDatum)
	}
	if p.CellM > 0 {
		parts = append(parts, fmt.Sprintf("cell %.3g m", p.CellM))
	}
	if p.NoiseM > 0 {
		parts = append(parts, fmt.Sprintf("ground noise %.2g m", p.NoiseM))
	}
	if p.RouteFile != "" {
		parts = append(parts, "road line: "+p.RouteFile)
	}
	if p.Tool != "" {
		parts = append(parts, "made by "+p.Tool)
	}
	if !p.At.IsZero() {
		parts = append(parts, p.At.Format("2006-01-02"))
	}
	return plain(strings.Join(parts, "; ") + ".")
}

// InventedBanner marks what shows an invented place.
const InventedBanner = "INVENTED DEMONSTRATION: no such road exists. Do not drive by it."

// anyInvented reports whether one of the entries is invented.
func anyInvented(es []catalog.Entry) bool {
	for i := range es {
		if es[i].Provenance.Invented {
			return true
		}
	}
	return false
}

// Title is the descent's name for people: its name, else its route.
func Title(d *routes.Descent) string {
	for _, s := range []string{d.Name, d.Route, d.ID} {
		if s = strings.TrimSpace(plain(s)); s != "" {
			return s
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

// plain makes text safe to print anywhere: line breaks and tabs become spaces;
// control characters and characters that turn the direction of writing, which
// can make a name read as another, become a visible replacement.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r' || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\uFFFE' || r == '\uFFFF': // the last two no XML may hold
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

// downgrade writes a downgrade to 0.1 %, or "unknown".
func downgrade(pct float64) string {
	if math.IsNaN(pct) || math.IsInf(pct, 0) {
		return "unknown"
	}
	return fmt.Sprintf("%.1f %%", pct)
}

// meanWithBound writes a mean downgrade with its 95 % half-width.
func meanWithBound(d *routes.Descent) string {
	if math.IsNaN(d.MeanDowngradeErrPct) || math.IsInf(d.MeanDowngradeErrPct, 0) {
		return downgrade(d.MeanDowngradePct) + " (bound unknown)"
	}
	return catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct)
}

// Window names a length that a steepest part was sought over.
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

// duration writes a time in whole minutes, at least one.
func duration(timeS float64) string {
	if !(timeS > 0) || math.IsInf(timeS, 0) {
		return "unknown"
	}
	m := int(math.Max(1, math.Round(timeS/60)))
	if m >= 60 {
		return fmt.Sprintf("%d h %02d min", m/60, m%60)
	}
	return fmt.Sprintf("%d min", m)
}

// FlagWords says a descent's flags in a sentence each.
func FlagWords(flags []string) []string {
	var out []string
	for _, f := range flags {
		switch f {
		case routes.FlagBorderline:
			f = "Borderline: within its bounds it may be shorter or flatter than the thresholds."
		case routes.FlagUnreliable:
			f = "Unreliable: the grade line may follow no road. Check before use."
		case routes.FlagInterpolated:
			f = "More than a quarter does not rest on measured ground."
		case routes.FlagAgainstOneWay:
			f = "Against the direction that this one-way road allows."
		case routes.FlagCutByEnd:
			f = "Cut by the end of the line or of its terrain: the hill may go on."
		}
		out = append(out, f)
	}
	return out
}
