package plansheet

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// set is the set of sheets for the specimen road.
func set(t *testing.T, ruleSet, name string, u catalog.Units) Set {
	t.Helper()
	rules, err := signs.FindRuleSet(ruleSet)
	if err != nil {
		t.Fatal(err)
	}
	e := specimen.Entry(routes.Forward)
	if name != "" {
		e.Descent.Name = name
	}
	s, err := signs.Plan(signs.Input{Descent: e.Descent, Profile: specimen.Profile(), ApproachSpeedMPS: 55 * catalog.MilePerHourMPS, Holds: e.Holds}, rules)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.PlanPosts(signs.PostOptions{Mileposts: []signs.Milepost{{StationM: 0, Reads: 12}}}); err != nil {
		t.Fatal(err)
	}
	return Set{Schedule: &s, Units: u, Source: "Elevation: invented", Made: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), Tool: "gradeline test", Invented: true}
}

func written(t *testing.T, s Set, f Format) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, s, f); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Both formats are the same twice, well formed, and their readers take them: librsvg and
// poppler (Debian's librsvg2-bin and poppler-utils).
func TestFormats(t *testing.T) {
	for _, id := range []string{"us-2023", "uk-2013", "haul-road"} {
		s := set(t, id, `<Hill & "Dale">`, catalog.Metric)
		for _, f := range []Format{SVG, PDF} {
			b := written(t, s, f)
			if !bytes.Equal(b, written(t, set(t, id, `<Hill & "Dale">`, catalog.Metric), f)) {
				t.Errorf("%s, %s: two sets differ", id, f)
			}
			path := filepath.Join(t.TempDir(), "plan."+string(f))
			if err := os.WriteFile(path, b, 0o600); err != nil {
				t.Fatal(err)
			}
			if f == SVG {
				if out, err := exec.Command("rsvg-convert", path).Output(); err != nil || !strings.HasPrefix(string(out), "\x89PNG") {
					t.Errorf("%s: rsvg-convert: %v", id, err)
				}
				continue
			}
			text, err := exec.Command("pdftotext", "-layout", path, "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			for _, want := range []string{"Quantities", "install", "milepost", "INVENTED DEMONSTRATION", "sheet 1 of"} {
				if !strings.Contains(string(text), want) {
					t.Errorf("%s: the PDF does not say %q", id, want)
				}
			}
		}
	}
	if err := Write(io.Discard, set(t, "us-2023", "", catalog.US), "dwg"); err == nil {
		t.Error("a format that is none was taken")
	}
	for name, want := range map[string]Format{"a.PDF": PDF, "b.svg": SVG, "c.png": "", "pdf": "", "-": "", "d.DXF": DXF, "e.dwg": ""} {
		if got, err := FormatFromName(name); got != want || (err == nil) != (want != "") {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
}

// Every post stands on a plan, in its list and in the big list; no text leaves its sheet.
func TestEveryPostIsDrawn(t *testing.T) {
	for _, u := range []catalog.Units{catalog.US, catalog.Metric} {
		s := set(t, "us-2023", "", u)
		drawn, err := s.draw()
		if err != nil {
			t.Fatal(err)
		}
		pages := drawn.pages
		count := map[string]int{}
		for _, p := range pages {
			for _, it := range p.items {
				switch v := it.(type) {
				case label:
					count[v.text]++
					w := widthMM(v.text, v.sizeMM, v.isBold)
					x0 := v.at.x - map[string]float64{"start": 0, "middle": w / 2, "end": w}[v.anchor]
					if v.angle == 0 && (x0 < 0 || x0+w > p.widthMM) || v.at.y < 0 || v.at.y > p.heightMM || math.IsNaN(v.at.x+v.at.y) {
						t.Errorf("%s: %q stands at %.1f to %.1f, %.1f", p.title, v.text, x0, x0+w, v.at.y)
					}
				case stroke:
					for _, q := range v.pts {
						if !(q.x >= 0 && q.x <= p.widthMM && q.y >= 0 && q.y <= p.heightMM) {
							t.Errorf("%s: a line at %v", p.title, q)
						}
					}
				}
			}
		}
		for _, post := range s.Schedule.Posts {
			// the plan's mark, the profile's mark, the sheet's list, the big list
			if n := count[fmt.Sprint(post.Number)]; n < 4 {
				t.Errorf("%s: post %d is written %d times", u, post.Number, n)
			}
		}
		if got := count["N"]; got != len(pages)-1 && got < 1 {
			t.Errorf("%d north arrows on %d sheets", got, len(pages))
		}
	}
}

// The plan is to scale: two posts are as far apart on paper as the ground between them
// over the scale, and north points north.
func TestPlanIsToScale(t *testing.T) {
	s := set(t, "us-2023", "", catalog.Metric)
	d := newDrafter(&s)
	st := d.stretches[0]
	v := d.placed(st)
	a, b := st.fromM+10, st.toM-10
	pts := d.course.PlanM(st.fromM, []float64{a, b})
	want := math.Hypot(pts[1][0]-pts[0][0], pts[1][1]-pts[0][1]) * 1000 / d.scale
	pa, pb := v.onPaper(pts[0][0], pts[0][1]), v.onPaper(pts[1][0], pts[1][1])
	if got := math.Hypot(pb.x-pa.x, pb.y-pa.y); math.Abs(got-want) > 0.01 {
		t.Errorf("%.2f mm apart, want %.2f", got, want)
	}
	o, n := v.onPaper(0, 0), v.onPaper(0, 100)
	sin, cos := math.Sincos(v.turn)
	if dx, dy := (n.x-o.x)*d.scale/1e5, (n.y-o.y)*d.scale/1e5; math.Abs(dx+sin) > 1e-9 || math.Abs(dy+cos) > 1e-9 {
		t.Errorf("north goes %g right and %g down on paper, the arrow %g and %g", dx, dy, -sin, -cos)
	}
	if v.at[0].x >= v.at[len(v.at)-1].x {
		t.Error("travel does not run from left to right")
	}
	if d.station(3902.4) != "3+902" || d.station(-20) != "-0+020" {
		t.Errorf("%s, %s", d.station(3902.4), d.station(-20))
	}
	d.u = catalog.US
	if got := d.station(1234.5 * catalog.FootM); got != "12+35" && got != "12+34" {
		t.Errorf("1,234.5 ft is %s", got)
	}
}

// The sheets of one road are equally full, together they are the road without a gap, and no mark
// covers the line to the next sheet.
func TestSheetsAreEquallyFull(t *testing.T) {
	for _, u := range []catalog.Units{catalog.US, catalog.Metric} {
		s := set(t, "us-2023", "", u)
		d := newDrafter(&s)
		if len(d.stretches) < 2 {
			t.Fatalf("%s: one sheet", u)
		}
		for i, st := range d.stretches {
			if want := (d.all.toM - d.all.fromM) / float64(len(d.stretches)); math.Abs((st.toM-st.fromM)/want-1) > 1e-9 {
				t.Errorf("%s: sheet %d has %.0f m, the mean is %.0f", u, i+1, st.toM-st.fromM, want)
			}
			if i > 0 && st.fromM != d.stretches[i-1].toM {
				t.Errorf("%s: sheet %d begins at %v, the one before ends at %v", u, i+1, st.fromM, d.stretches[i-1].toM)
			}
		}
		v := d.placed(d.stretches[1])
		if !d.isAtJoint(point{v.at[0].x + 5, v.at[0].y + 14}, &v, d.stretches[1]) || d.isAtJoint(point{v.at[0].x + 5, v.at[0].y + 17}, &v, d.stretches[1]) {
			t.Errorf("%s: marks at the line to the sheet before", u)
		}
	}
}

// No station's label stands in the line that names the next sheet; the others stay.
func TestNoStationLabelInAJoin(t *testing.T) {
	join := []point{{100, 50}}
	for _, c := range []struct {
		tick, o point
		want    bool
	}{
		{point{97, 45}, point{0.8, -0.6}, true}, {point{103, 52}, point{-0.8, 0.6}, true}, {point{60, 50}, point{0.8, -0.6}, false},
		{point{97, 45}, point{-0.8, -0.6}, false}, {point{97, 90}, point{0.8, 0.6}, false},
	} {
		if got := crossesJoin(c.tick, c.o, "290+00", join); got != c.want {
			t.Errorf("tick %v towards %v: %v", c.tick, c.o, got)
		}
	}
	if crossesJoin(point{97, 45}, point{0.8, -0.6}, "290+00", nil) {
		t.Error("a sheet without neighbours has a join")
	}
}

// Each sheet is a picture of its own with its title.
func TestSheetsAreOneEach(t *testing.T) {
	s := set(t, "us-2023", "", catalog.US)
	sheets, err := Sheets(s)
	if err != nil {
		t.Fatal(err)
	}
	d, err := s.draw()
	if err != nil {
		t.Fatal(err)
	}
	if len(sheets) != len(d.pages) || len(sheets) < 2 {
		t.Fatalf("%d pictures of %d sheets", len(sheets), len(d.pages))
	}
	for i, x := range sheets {
		if !strings.HasSuffix(x.Title, fmt.Sprintf("sheet %d of %d", i+1, len(sheets))) || bytes.Count(x.SVG, []byte("<title>")) != 1 {
			t.Errorf("sheet %d: %q has %d titles", i+1, x.Title, bytes.Count(x.SVG, []byte("<title>")))
		}
	}
	if _, err := Sheets(Set{}); err == nil {
		t.Error("sheets of nothing")
	}
}

// Station labels are on the side of the road without posts: left of travel in the United States,
// right of it in the United Kingdom.
func TestStationsAreWrittenAwayFromThePosts(t *testing.T) {
	for id, wantRight := range map[string]bool{"us-2023": false, "uk-2018": true} {
		s := set(t, id, "", catalog.Metric)
		d := newDrafter(&s)
		v := d.placed(d.stretches[0])
		p := &page{}
		d.stationTicks(p, &v, d.stretches[0], nil)
		labels := 0
		for _, it := range p.items {
			l, isLabel := it.(label)
			if !isLabel {
				continue
			}
			labels++
			best := 0
			for k, q := range v.at {
				if math.Hypot(q.x-l.at.x, q.y-l.at.y) < math.Hypot(v.at[best].x-l.at.x, v.at[best].y-l.at.y) {
					best = k
				}
			}
			n, q := v.normal(best), v.at[best]
			if isRight := (l.at.x-q.x)*n.x+(l.at.y-q.y)*n.y > 0; isRight != wantRight {
				t.Errorf("%s: %s stands on the right: %v", id, l.text, isRight)
			}
			if l.angle > 90 && l.angle < 270 || l.angle < -90 {
				t.Errorf("%s: %s is upside down, %.0f°", id, l.text, l.angle)
			}
		}
		if labels < 3 {
			t.Errorf("%s: %d labels", id, labels)
		}
	}
}

// Warning signs are triangles in the United Kingdom, diamonds in the United States; a
// sign that the terrain can't tell carries a question mark and a dashed outline.
func TestMarks(t *testing.T) {
	corners := func(id string) int {
		s := set(t, id, "", catalog.Metric)
		for _, post := range s.Schedule.Posts {
			if f := post.Faces[0]; f.Shape != signs.ShapeRectangle {
				p := &page{}
				drawMark(p, post, point{50, 50})
				return len(p.items[0].(stroke).pts)
			}
		}
		return 0
	}
	if us, uk := corners("us-2023"), corners("uk-2013"); us != 4 || uk != 3 && uk != 0 {
		t.Errorf("%d corners in the United States, %d in the United Kingdom", us, uk)
	}
	p := &page{}
	drawMark(p, signs.Post{Number: 7, Action: signs.ActionDecide, Faces: []signs.Face{{Shape: signs.ShapeTriangle, Need: signs.NeedCantTell}}}, point{50, 50})
	dashed, asked := false, false
	for _, it := range p.items {
		switch v := it.(type) {
		case stroke:
			dashed = dashed || v.dashMM > 0 && len(v.pts) == 3
		case label:
			asked = asked || v.text == "7?"
		}
	}
	if !dashed || !asked {
		t.Errorf("dashed %v, asked %v", dashed, asked)
	}
}

// The SVG is well-formed XML without a number that is none.
func TestSVGIsWellFormed(t *testing.T) {
	b := written(t, set(t, "uk-2013", "", catalog.Metric), SVG)
	dec := xml.NewDecoder(bytes.NewReader(b))
	for {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	if bytes.Contains(b, []byte("NaN")) || bytes.Contains(b, []byte("Inf")) {
		t.Error("a number that is none")
	}
}

func Example() {
	rules, _ := signs.FindRuleSet("us-2023")
	e := specimen.Entry(routes.Forward)
	s, err := signs.Plan(signs.Input{Descent: e.Descent, Profile: specimen.Profile(), ApproachSpeedMPS: 25, Holds: e.Holds}, rules)
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := s.PlanPosts(signs.PostOptions{Road: "freeway"}); err != nil {
		fmt.Println(err)
		return
	}
	var b bytes.Buffer
	err = Write(&b, Set{Schedule: &s, Units: catalog.US, Invented: true}, PDF)
	fmt.Println(strings.HasPrefix(b.String(), "%PDF"), err)
	// Output: true <nil>
}
