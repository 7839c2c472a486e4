package page

import (
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
)

func fingerprint(t *testing.T, s Sheet) string {
	t.Helper()
	f, err := s.Fingerprint()
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A page keeps its fingerprint whatever the units, the paper and the day of printing,
// and changes it with anything that a driver would do otherwise.
func TestFingerprint(t *testing.T) {
	was := fingerprint(t, sampleSheet("us-5axle", catalog.US))
	if !regexp.MustCompile(`^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$`).MatchString(was) {
		t.Fatalf("%q", was)
	}
	for what, change := range map[string]func(s *Sheet){
		"units":   func(s *Sheet) { s.Units = catalog.Metric },
		"toward":  func(s *Sheet) { s.Toward = "elsewhere" },
		"printed": func(s *Sheet) { s.Printed = time.Date(2027, 1, 2, 0, 0, 0, 0, time.UTC) },
		"label":   func(s *Sheet) { s.ClassLabel = "another name" },
	} {
		s := sampleSheet("us-5axle", catalog.US)
		change(&s)
		if got := fingerprint(t, s); got != was {
			t.Errorf("%s: %s became %s", what, was, got)
		}
	}
	seen := map[string]string{was: "the page itself"}
	for what, change := range map[string]func(s *Sheet){
		"speed":    func(s *Sheet) { s.Entry.Holds[0].SpeedMPS-- },
		"gear":     func(s *Sheet) { s.Entry.Holds[0].GearName = "5" },
		"stage":    func(s *Sheet) { s.Entry.Holds[0].Levers[0].Stage-- },
		"point":    func(s *Sheet) { s.Entry.Holds[0].GearByM -= 100 },
		"surface":  func(s *Sheet) { s.Entry.Holds[0].SurfacesOut = []string{"wet"} },
		"crest":    func(s *Sheet) { s.Entry.Descent.StartM += 20 },
		"approved": func(s *Sheet) { s.Entry.Review.State = catalog.Approved },
		"question": func(s *Sheet) { s.Entry.Review.InQuestion = "moved" },
		"ramp":     func(s *Sheet) { s.Sites = s.Sites[:1] },
		"class":    func(s *Sheet) { s.Class = "bc-btrain" },
		"none":     func(s *Sheet) { s.Class = "none-such" },
	} {
		s := sampleSheet("us-5axle", catalog.US)
		change(&s)
		got := fingerprint(t, s)
		if seen[got] != "" {
			t.Errorf("%s gives the fingerprint of %s", what, seen[got])
		}
		seen[got] = what
	}
	if typed := strings.ToLower(strings.ReplaceAll(was, "-", " ")); !SameFingerprint(was, typed) || !IsFingerprint(typed) {
		t.Errorf("%q is not read as %q", typed, was)
	}
	if !SameFingerprint("0O1I-LABC", "0011-1abc") || IsFingerprint("ABCD-EFU1") || IsFingerprint("ABC") {
		t.Error("letters that are mistaken for figures")
	}
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Descent.DropM = math.NaN()
	if _, err := s.Fingerprint(); err == nil {
		t.Error("a figure that is none has a fingerprint")
	}
}

// The band is solid on an approved page alone.
func TestBandTellsApproval(t *testing.T) {
	at := time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		r     catalog.Review
		want  string
		solid bool
	}{
		{catalog.Review{}, "NOT REVIEWED", false},
		{catalog.Review{State: catalog.Surveyed}, "NOT REVIEWED", false},
		{catalog.Review{State: catalog.FieldChecked, By: "R. Vane", At: at}, "FIELD-CHECKED by R. Vane on 2026-11-20, NOT APPROVED", false},
		{catalog.Review{State: catalog.Approved, By: "R. Vane", At: at}, "APPROVED by R. Vane on 2026-11-20", true},
		{catalog.Review{State: catalog.Approved, By: "R. Vane", At: at, InQuestion: "moved"}, "APPROVAL IN QUESTION", false},
		{catalog.Review{State: catalog.Retired, By: "R. Vane", At: at}, "RETIRED: this page is no longer in use", false},
	} {
		if got := bandFor(&c.r); got.Text != c.want || got.Solid != c.solid {
			t.Errorf("%s: %+v", c.r.State, got)
		}
	}
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Review = catalog.Review{State: catalog.Approved, By: "R. Vane", At: at}
	_, html := printed(t, "sheet-approved", s)
	says(t, "the page", html, `<p class="band solid"><span>APPROVED by R. Vane on 2026-11-20</span></p>`)
}

// A brake check area before the gear point comes first; from one inside its margin the
// truck drives off in its gear.
func TestBrakeCheckAreaBeforeTheGearPoint(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Holds[0].ApproachSpeedMPS = 0 // no place to slow down from
	if first := inWords(t, s).Places[0]; !strings.HasPrefix(first.What, "BRAKE CHECK AREA") || strings.Contains(first.What, "LEAVE IT") {
		t.Errorf("first comes %q", first.What)
	}
	s.Sites[0].StationM = at(1450) // 50 m before the crest, past the gear point at 1,400
	p := inWords(t, s)
	if !strings.HasPrefix(p.Places[0].What, "GEAR 6 IN") || !strings.HasSuffix(p.Places[1].What, ": LEAVE IT IN GEAR 6") {
		t.Errorf("%q, then %q", p.Places[0].What, p.Places[1].What)
	}
}
