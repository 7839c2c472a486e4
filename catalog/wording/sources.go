package wording

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"gradeline/catalog"
)

// QuestionWords says why an entry's review is in question; empty where it isn't.
func QuestionWords(e *catalog.Entry) string {
	if e.Review.InQuestion == "" {
		return ""
	}
	return "IN QUESTION: " + Plain(e.Review.InQuestion)
}

// DriverQuestion is QuestionWords for a driver, without the parts that only the office can act on.
func DriverQuestion(e *catalog.Entry) string {
	q := QuestionWords(e)
	if q == "" {
		return ""
	}
	return strings.TrimSuffix(officeWords.Replace(q), ".") + ". Ask the office before you use this page."
}

// officeWords are the reasons for a question in the words of the office.
var officeWords = strings.NewReplacer(
	"moved it beyond its bounds: ", "found this hill different: ",
	"; accept or refuse it", "",
	"; survey again, or name the class file that it was made with (--classes)", "",
)

// HarderSurvey says on a driver's page that it is based on a survey that is not yet decided on.
const HarderSurvey = "A NEWER SURVEY FOUND THIS HILL HARDER. This page is based on the newer survey; the office has not checked it yet."

// ReviewState is the state of the review; an entry without one is surveyed.
func ReviewState(e *catalog.Entry) string {
	if e.Review.State == "" {
		return string(catalog.Surveyed)
	}
	return string(e.Review.State)
}

// IsFieldChecked reports whether a field check is on record. An approval alone is not enough: it
// may have been given at a desk.
func IsFieldChecked(e *catalog.Entry) bool {
	return e.Review.State == catalog.FieldChecked || e.Review.MeasuredGradePct != nil ||
		e.Provenance.FieldState == string(catalog.FieldChecked)
}

// ReviewLine gives the state of the review, by whom and when, and whether it is in question.
func ReviewLine(e *catalog.Entry) string {
	state := string(e.Review.State)
	if state == "" {
		state = string(catalog.Surveyed)
	}
	s := "Review: " + state
	if e.Review.By != "" {
		s += " by " + Shortened(Plain(e.Review.By), MostNameColumns)
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
		s += "; IN QUESTION: " + WithoutMiddle(Plain(e.Review.InQuestion))
	}
	return s + "."
}

// namelessCRS matches a raster's line in the provenance with no coordinate system or an unknown
// one. The line itself is stored unchanged, so that it can be compared with later ones.
var namelessCRS = regexp.MustCompile(`(?i) \((?:unknown|unnamed)?, cell `)

// SourceLine names the sources of an entry, the program and the time.
func SourceLine(p catalog.Provenance) string {
	rasters := "elevation source unknown"
	if n := len(p.Rasters); n > 0 {
		rasters = namelessCRS.ReplaceAllString(strings.Join(p.Rasters[:min(n, 2)], " + "), " (coordinate system without a name, cell ")
		if n > 2 {
			rasters += fmt.Sprintf(" + %d more", n-2)
		}
	}
	from := "terrain and " + Counted(p.Drives, "recorded drive")
	if len(p.Rasters) == 0 && p.Drives > 0 {
		rasters = "none; heights are those of barometers, whose level the weather moves by a hundred metres"
		from = Counted(p.Drives, "recorded drive") + " alone, without terrain"
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
	if p.Drives > 0 {
		parts = append(parts, "grade line from "+from+" (barometers in trucks were not tested; the figures are from bicycle computers)")
	}
	if p.RouteFile != "" {
		parts = append(parts, "road line: "+p.RouteFile[strings.LastIndexAny(p.RouteFile, `/\\`)+1:]) // paper leaves the office: print no folder
	}
	parts = append(parts, p.Credits...)
	if p.Tool != "" {
		parts = append(parts, "made by "+p.Tool)
	}
	if !p.At.IsZero() {
		parts = append(parts, p.At.Format("2006-01-02"))
	}
	return Plain(strings.Join(parts, "; ") + ".")
}

// InventedBanner marks output about an invented place.
const InventedBanner = "INVENTED DEMONSTRATION: no such road exists. Do not drive by it."

// AnyInvented reports whether one of the entries is invented.
func AnyInvented(es []catalog.Entry) bool {
	for i := range es {
		if es[i].Provenance.Invented {
			return true
		}
	}
	return false
}
