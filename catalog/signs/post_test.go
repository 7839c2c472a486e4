package signs

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

func posted(t *testing.T, s *Schedule, o PostOptions) {
	t.Helper()
	if err := s.PlanPosts(o); err != nil {
		t.Fatal(err)
	}
}

// A post stands 24 ft from the line on the reader's right: 12 ft of lane and 12 ft to the
// post (MUTCD lateral offset, from memory), by the geodesic to its coordinates.
func TestPostsStandBesideTheRoad(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	posted(t, &s, PostOptions{})
	if len(s.Posts) == 0 {
		t.Fatal("no post")
	}
	for _, p := range s.Posts {
		if isOn := p.StationM >= 0 && p.StationM <= s.line.p.LengthM; !p.OnLine || !isOn {
			if p.OnLine != isOn {
				t.Errorf("post %d at station %g m: on the line %t", p.Number, p.StationM, p.OnLine)
			}
			continue
		}
		at, heading := s.line.p.PointAt(p.StationM), s.line.p.PointAt(p.StationM+s.line.sgn()*10)
		q := planM(at, [2]float64{p.LonDeg, p.LatDeg})
		h := planM(at, heading)
		if d := math.Hypot(q[0], q[1]); math.Abs(d-24*catalog.FootM) > 0.01 || math.Abs(p.FromLineM-24*catalog.FootM) > 1e-9 {
			t.Errorf("post %d stands %.2f m from the line", p.Number, d)
		}
		if h[0]*q[1]-h[1]*q[0] >= 0 { // right of travel
			t.Errorf("post %d stands on the left", p.Number)
		}
		if ahead := (h[0]*q[0] + h[1]*q[1]) / math.Hypot(h[0], h[1]); math.Abs(ahead) > 1 {
			t.Errorf("post %d stands %.1f m off its station", p.Number, ahead)
		}
	}
	edge, offset := 5.0, 2.0
	posted(t, &s, PostOptions{EdgeM: &edge, OffsetM: &offset})
	if got := s.Posts[0].FromLineM; got != 7 {
		t.Errorf("%g m from the line, 7 asked for", got)
	}
	edge = -1
	if err := s.PlanPosts(PostOptions{EdgeM: &edge}); err == nil {
		t.Error("a road edge of -1 m was taken")
	}
	if err := s.PlanPosts(PostOptions{Road: "alley"}); err == nil || !strings.Contains(err.Error(), "freeway") {
		t.Errorf("%v", err)
	}
}

// Sizes of MUTCD 2023 table 2C-1, as transcribed publicly: W7-1a 30 by 30 in on a
// conventional road of one lane each way and 36 by 36 else, W7-4 84 by 48 and 120 by 72.
func TestSizesByRoad(t *testing.T) {
	rs, err := FindRuleSet("us-2023")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ sign, road, want string }{
		{"W7-1a", "conventional", "30 x 30 in"}, {"W7-1a", "multi-lane", "36 x 36 in"}, {"W7-1", "freeway", "36 x 36 in"},
		{"W7-4", "conventional", "84 x 48 in"}, {"W7-4", "freeway", "120 x 72 in"}, {"W7-4b", "expressway", "120 x 78 in"},
		{"W7-3aP", "multi-lane", "24 x 18 in"}, {"W7-3aP", "freeway", SizeNotGiven}, {"W13-1P", "freeway", "30 x 30 in"}, {"w7-1A", "expressway", "36 x 36 in"},
		{"panel of the State's own", "freeway", SizeNotGiven},
	} {
		if got, _ := rs.size(c.sign, c.road, 25); got != c.want {
			t.Errorf("%s on a %s road: %s, want %s", c.sign, c.road, got, c.want)
		}
	}
	uk, err := FindRuleSet("uk-2013")
	if err != nil {
		t.Fatal(err)
	}
	for mph, want := range map[float64]string{40: "600 mm high", 41: "750 mm high", 50: "750 mm high", 60: "900 mm high", 70: "1200 mm high"} {
		if got, _ := uk.size("523.1", "single", mph*catalog.MilePerHourMPS); got != want {
			t.Errorf("523.1 at %g mph: %s, want %s", mph, got, want)
		}
	}
}

// What stands where it is due is kept with its photograph, what stands elsewhere is
// moved, what nothing calls for is removed, what is missing is installed.
func TestPostActions(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	var first, second *Placement
	for i := range s.Placements {
		if p := &s.Placements[i]; p.Role == RoleRepeat && first == nil {
			first = p
		} else if p.Role == RoleRepeat && second == nil {
			second = p
		}
	}
	sign := func(feature int, id string, stationM float64, codes ...string) Standing {
		return Standing{Feature: feature, ID: id, Photo: "IMG-" + id, Codes: codes, Values: make([]string, len(codes)), Side: "right", Facing: &s.Direction, StationM: stationM, OffsetM: 7}
	}
	standing := []Standing{
		sign(1, "a", first.StationM+5, "W7-1a", "W7-3aP"),
		sign(2, "b", second.StationM-s.line.sgn()*300, "W7-1a", "W7-3aP"),
		sign(3, "c", first.StationM+s.line.sgn()*40, "W7-1a", "W7-3aP"),
		sign(4, "d", first.StationM, "W7-6"),
	}
	posted(t, &s, PostOptions{IsAudited: true, Standing: standing})
	got := map[string]string{}
	installs := 0
	for _, p := range s.Posts {
		for _, f := range p.Faces {
			if f.IsPlaque {
				continue
			}
			if f.Standing == "" {
				if f.Action != ActionInstall && f.Action != ActionDecide {
					t.Errorf("%s without a standing sign: %s", f.Designation, f.Action)
				}
				installs++
				continue
			}
			got[f.Photo] = f.Action
			if f.Action == ActionMove && (f.FromM == nil || math.Abs(*f.FromM-(second.StationM-s.line.sgn()*300)) > 1e-6) {
				t.Errorf("moved from %v", f.FromM)
			}
		}
	}
	for photo, want := range map[string]string{"IMG-a": ActionKeep, "IMG-b": ActionMove, "IMG-c": ActionRemove, "IMG-d": ActionLeave} {
		if got[photo] != want {
			t.Errorf("%s: %s, want %s", photo, got[photo], want)
		}
	}
	if installs == 0 {
		t.Error("nothing to install")
	}
	wrong := sign(1, "a", first.StationM, "W7-1a", "W7-3aP")
	wrong.Grade = "9%"
	posted(t, &s, PostOptions{IsAudited: true, Standing: []Standing{wrong}})
	for _, p := range s.Posts {
		for _, f := range p.Faces {
			if f.Photo == "IMG-a" && f.Action != ActionReplace {
				t.Errorf("a wrong figure: %s", f.Action)
			}
		}
	}
}

// Mileposts: one alone rises by one a mile, two go in proportion, also where they fall.
func TestMileposts(t *testing.T) {
	scale := func(units string, texts ...string) MilepostScale {
		var known []Milepost
		for _, x := range texts {
			m, err := ParseMilepost(x)
			if err != nil {
				t.Fatal(err)
			}
			known = append(known, m)
		}
		s, err := NewMilepostScale(known, units)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	mi := catalog.MileM
	for _, c := range []struct {
		s       MilepostScale
		station float64
		want    string
	}{
		{scale("us", "0=134.2"), 2 * mi, "136.20"}, {scale("metric", "0m=12"), 1500, "13.50"}, {scale("us", "1mi=10"), 0, "9.00"},
		{scale("us", "0ft=100", "10mi=90"), 2.5 * mi, "97.50"}, {scale("us", "0=100", "10mi=110", "20mi=118"), 30 * mi, "126.00"},
		{scale("us", "20mi=118", "0=100", "10mi=110"), 15 * mi, "114.00"}, {scale("us", "0=100", "10mi=110"), -mi, "99.00"}, {MilepostScale{}, 5, ""},
	} {
		if got := c.s.Words(c.station); got != c.want {
			t.Errorf("%v at %.0f m: %s, want %s", c.s.known, c.station, got, c.want)
		}
	}
	for _, bad := range []string{"", "5mi", "5=3", "xmi=3", "5mi=x", "5mi=NaN", "5mi=1e9", "-5mi=2"} {
		if _, err := ParseMilepost(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
	for _, bad := range [][]Milepost{{{0, 1}, {0.5, 2}}, {{0, 1}, {1000, 1}}, {{0, 1}, {1000, 3}, {2000, 2}}} {
		if _, err := NewMilepostScale(bad, "us"); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}
