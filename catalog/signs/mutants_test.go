package signs

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
)

// A degree at latitude 45 is 111,131.8 m to the north and 78,846.8 m to the east (WGS 84;
// standard tables of the lengths of a degree).
func TestDegreesInMetres(t *testing.T) {
	p := planM(orb.Point{10, 45}, orb.Point{11, 46})
	if math.Abs(p[0]-78846.8) > 1 || math.Abs(p[1]-111131.8) > 1 {
		t.Errorf("%v", p)
	}
	lon, lat := lonLatFromPlanM(orb.Point{179.9, -45}, 78846.8, 111131.8)
	if math.Abs(lon+179.1) > 1e-4 || math.Abs(lat+44) > 1e-4 {
		t.Errorf("%g, %g", lon, lat)
	}
}

// What is said of the brake check area goes with what is scheduled.
func TestTheNoteOnTheCheckAreaGoesWithTheSchedule(t *testing.T) {
	notes := func(stationsM ...float64) string {
		in := passDescent()
		in.Sites = nil
		for _, x := range stationsM {
			in.Sites = append(in.Sites, siteAt(catalog.BrakeCheck, "", x, routes.Forward))
		}
		s := plan(t, in, "us-2023")
		scheduled := slices.ContainsFunc(s.Placements, func(p Placement) bool { return p.Role == RoleCheck })
		text := strings.Join(s.Notes, "\n")
		if scheduled != (len(stationsM) > 0) || scheduled && strings.Contains(text, "none is scheduled") && strings.Contains(text, "No brake check area is on record") {
			t.Errorf("%v: scheduled %t, %s", stationsM, scheduled, text)
		}
		return text
	}
	for _, c := range []struct {
		at   []float64
		says string
	}{{nil, "none is scheduled"}, {[]float64{1005}, "at the crest itself"}, {[]float64{3000}, "6,562 ft past it"}} {
		if got := notes(c.at...); !strings.Contains(got, c.says) {
			t.Errorf("%v: %s", c.at, got)
		}
	}
	for _, at := range []float64{700, 1000} {
		if got := notes(at, 3000); strings.Contains(got, "brake check area") {
			t.Errorf("%g m: %s", at, got)
		}
	}
}

func TestRampSpeedsThatAreNone(t *testing.T) {
	for v, ok := range map[float64]bool{200: true, 201: false, 0: false, -1: false, 1: true} {
		if _, err := RampLengthFt(v, 0.1, 0); (err == nil) != ok {
			t.Errorf("%g mph: %v", v, err)
		}
	}
	run := []SpeedAt{{StationM: 100, FreeMPS: 30}, {StationM: 110, FreeMPS: 32}, {StationM: 120, FreeMPS: 31}}
	for at, want := range map[float64]float64{100: 30, 104: 30, 105: 32, 110: 32, 115: 32, 116: 31, 500: 31, 0: 30} {
		if got := SpeedNear(run, at).FreeMPS; got != want {
			t.Errorf("%g m: %g, want %g", at, got, want)
		}
	}
}

// Ramp lengths are rounded up: to 5 m, or to 10 ft.
func TestRampLengthsAreRoundedUp(t *testing.T) {
	for _, c := range []struct {
		m      float64
		metric string
		us     string
	}{{100, "100 m", "330 ft"}, {100.1, "105 m", "330 ft"}, {104.9, "105 m", "350 ft"}, {100 * catalog.FootM, "35 m", "100 ft"}} {
		if got := rampLength(c.m, catalog.Metric); got != c.metric {
			t.Errorf("%g m: %s, want %s", c.m, got, c.metric)
		}
		if got := rampLength(c.m, catalog.US); got != c.us {
			t.Errorf("%g m: %s, want %s", c.m, got, c.us)
		}
	}
	if a, b := roundedLength(catalog.US, 100, math.Floor), roundedLength(catalog.Metric, 100.7, math.Ceil); a != "328 ft" || b != "101 m" {
		t.Errorf("%s, %s", a, b)
	}
}

// The steepest part has its sign where no sign at the hill's start shows a grade.
func TestTheSteepestPartIsSaidWhereTheHillsSignIsMute(t *testing.T) {
	rs := ruleSet(t, "us-2023")
	for i := range rs.Signs {
		if rs.Signs[i].Role == RoleAdvance {
			rs.Signs[i].Legend = "HILL"
		}
	}
	p := road(0.1, leg{500, 0, 0}, leg{2000, 5.5, 0}, leg{600, 9, 0}, leg{2000, 5.5, 0}, leg{500, 0, 0})
	s, err := Plan(Input{Descent: descent(p, 500, 5100), Profile: p, ApproachSpeedMPS: 25}, rs)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(s.Placements, func(p Placement) bool { return p.Role == RoleSteepest }) {
		t.Error("nothing says the steepest part")
	}
}

// Tables in feet say so in their heads and in their figures; those in metres likewise.
func TestTablesSayTheirUnits(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	posted(t, &s, PostOptions{})
	for _, u := range []catalog.Units{catalog.US, catalog.Metric} {
		unit, per := "_m", 1.0
		if u == catalog.US {
			unit, per = "_ft", catalog.FootM
		}
		column := func(header []string, rows [][]string, name string) string {
			i := slices.Index(header, name+unit)
			if i < 0 || len(rows) == 0 {
				t.Fatalf("%s: no %s%s in %q", u, name, unit, header)
			}
			return rows[0][i]
		}
		whole := func(m float64) string { return whole(catalog.Metric, m/per) }
		h, r := s.StretchTable(u)
		if got := column(h, r, "start"); got != whole(s.Stretches[0].FromM) {
			t.Errorf("%s: a stretch from %s", u, got)
		}
		h, r = s.Table(u)
		if got := column(h, r, "station"); got != whole(s.Placements[0].StationM) {
			t.Errorf("%s: a sign at %s", u, got)
		}
		h, r = s.PostTable(u)
		if got := column(h, r, "station"); got != whole(s.Posts[0].StationM) {
			t.Errorf("%s: a post at %s", u, got)
		}
		if got, want := column(h, r, "from_line"), map[string]string{"_m": "7.3", "_ft": "24.0"}[unit]; got != want {
			t.Errorf("%s: a post %s from the line, want %s", u, got, want)
		}
		off := 100.0
		h, r = FindingTable([]Finding{{Kind: FindMisplaced, StationM: 1000, OffByM: &off}}, u)
		if got := column(h, r, "off_by"); got != whole(100) {
			t.Errorf("%s: off by %s", u, got)
		}
		h, r = EditionTable([]Schedule{s}, u)
		advance := 0.0
		for _, p := range s.Placements {
			if p.Role == RoleAdvance {
				advance = p.AheadM
			}
		}
		if got := column(h, r, "first_advance"); got != whole(advance) {
			t.Errorf("%s: announced %s ahead, want %s", u, got, whole(advance))
		}
	}
}

// The panel's table says what its lines say.
func TestPanelTable(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	header, rows := s.PanelTable(catalog.US)
	if len(rows) != len(s.Panel) || len(rows) == 0 {
		t.Fatalf("%d rows, %d lines", len(rows), len(s.Panel))
	}
	for i, r := range rows {
		p := s.Panel[i]
		if len(r) != len(header) || r[0] != p.Legend || (r[3] == "yes") != p.Holds || (r[4] == "") == p.Holds {
			t.Errorf("%+v: %q", p, r)
		}
	}
}
