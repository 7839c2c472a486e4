package page

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/routes"
)

// trip is a way of 20 km with a hill from km 5 to km 9 and one from km 12 to km 15.
func trip(holds ...catalog.Hold) Trip {
	t := Trip{From: "A", To: "B", Class: "x", MassKg: 36000, LengthM: 20000, TimeS: 1500, View: plot.WayView{Name: "the way", LengthM: 20000}}
	for i := range 201 {
		t.View.Line = append(t.View.Line, catalog.Vertex{LonDeg: 10 + float64(i)/1000, LatDeg: 46, ElevationM: 1500 - float64(i), StationM: 100 * float64(i)})
	}
	for i, h := range holds {
		from := []float64{5000, 12000}[i]
		h.Class, h.GearByM, h.SlowFromM, h.ApproachSpeedMPS = "x", from-200, from-500, 20
		e := catalog.Entry{Descent: routes.Descent{StartM: from, EndM: from + 3000, LengthM: 3000, DropM: 200, MeanDowngradePct: 6.7, Steepest500Pct: 7}, Holds: []catalog.Hold{h}}
		t.Entries = append(t.Entries, e)
		t.View.Hills = append(t.View.Hills, plot.WayHill{No: i + 1, FromM: from, ToM: from + 3000, Says: "held"})
	}
	return t
}

func heldAt(gear string) catalog.Hold {
	return catalog.Hold{Holds: true, Gear: 5, GearName: gear, Stage: 2, SpeedMPS: 10, SpeedLowMPS: 8, HeaviestMassKg: 60000}
}

// What the driver does stands before what it is for: brake check, slow down, gear, hill,
// ramp, foot, for each hill in the order of the road.
func TestTripRowsAreInOrderOfTheRoad(t *testing.T) {
	x := trip(heldAt("5L"), heldAt("6H"))
	x.Sites = []TripSite{{catalog.Site{Kind: catalog.EscapeRamp, Name: "Lower", Side: "right"}, 14000}, {catalog.Site{Kind: catalog.BrakeCheck, Name: "Top"}, 11000}}
	var got []string
	last := -1.0
	for _, r := range x.page().Rows {
		got = append(got, r.What)
		if r.atM < last-0.5 {
			t.Errorf("%q stands behind what comes later", r.What)
		}
		last = r.atM
	}
	want := []string{"Check the brakes before hill 1", "SLOW DOWN from here, for hill 1", "GEAR 5L IN", "Hill 1 begins", "Foot of hill 1",
		"STOP: BRAKE CHECK AREA Top", "SLOW DOWN from here, for hill 2", "GEAR 6H IN", "Hill 2 begins", "ESCAPE RAMP Lower (right)", "Foot of hill 2"}
	if len(got) != len(want) {
		t.Fatalf("rows %q", got)
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("row %d: %q, want %q", i+1, got[i], want[i])
		}
	}
}

// A hill that is not held, or not known, rules the whole page, and gives no gear.
func TestTripSaysTheWorstFirst(t *testing.T) {
	dry := heldAt("5")
	dry.SurfacesOut = []string{"wet", "ice"}
	noAdvice := trip(heldAt("5"), heldAt("5"))
	noAdvice.Entries[1].Holds = nil
	ground := trip(heldAt("5"))
	ground.View.UnknownM = [][2]float64{{16000, 17000}}
	for _, c := range []struct {
		name       string
		t          Trip
		head, more string
	}{
		{"held", trip(heldAt("5")), "EVERY HILL HOLDS", "GEAR 5 IN"},
		{"dry", trip(heldAt("5"), dry), catalog.DryRoadOnly, "Not on these surfaces: wet, ice"},
		{"not held", trip(heldAt("5"), catalog.Hold{HeaviestMassKg: 20000}), "NOT HELD: DO NOT DRIVE", "NOT HELD: no gear holds"},
		{"no advice", noAdvice, "UNKNOWN IN PARTS: DO NOT DRIVE", "UNKNOWN: no hold was computed"},
		{"no ground", ground, "UNKNOWN IN PARTS: DO NOT DRIVE", "UNKNOWN GROUND"},
		{"level", trip(), "NO LONG DOWNGRADE", "A planning aid"},
	} {
		var html, pdf bytes.Buffer
		if err := TripHTML(&html, c.t, A4); err != nil {
			t.Fatal(err)
		}
		if err := TripPDF(&pdf, c.t, Letter); err != nil {
			t.Fatal(err)
		}
		for form, text := range map[string]string{"HTML": html.String(), "PDF": textOfPDF(t, pdf.Bytes())} {
			text = strings.Join(strings.Fields(text), " ")
			for _, want := range append(catalog.Cautions()[:1], c.head, c.more) {
				if !strings.Contains(strings.ReplaceAll(text, "&#39;", "'"), want) {
					t.Errorf("%s, %s: no %q", c.name, form, want)
				}
			}
			if c.name != "held" && c.name != "dry" && strings.Contains(text, "EVERY HILL HOLDS") {
				t.Errorf("%s, %s: says that every hill holds", c.name, form)
			}
		}
	}
	none := trip()
	for i := range none.View.Line {
		none.View.Line[i].ElevationM = math.NaN()
	}
	if err := TripHTML(&bytes.Buffer{}, none, A4); err == nil {
		t.Error("a way without any height has a page")
	}
}

// The page of a trip has the conditions of its advice as a hill's page has: the masses that it is for,
// from what speed to slow down, what to do when speed rises, and the holds' own cautions.
func TestTripHasTheConditionsOfItsAdvice(t *testing.T) {
	const all, one = "A retarder that heats the coolant cuts itself back when that is hot.", "In air under 5 °C warm the truck up."
	a, b := heldAt("5L"), heldAt("6H")
	a.MassKg, a.MassLightKg, a.Cautions = 36000, 20000, []string{all, one, "For masses from 20.0 t to 36.0 t: a lighter truck locks its wheels."}
	b.MassKg, b.MassLightKg, b.Cautions = 36000, 30000, []string{all}
	x := trip(a, b)
	p := x.page()
	if p.Class != "x, for 30.0 t (66,200 lb) to 36.0 t (79,300 lb)" {
		t.Errorf("the page is of %s", p.Class)
	}
	says(t, "the cautions", strings.Join(p.Cautions, "\n"), "\n"+all, "\nHill 1: "+one, catalog.Cautions()[0])
	if strings.Contains(strings.Join(p.Cautions, "\n"), "For masses") {
		t.Errorf("masses twice: %q", p.Cautions)
	}
	says(t, "what to do when speed rises", p.Rise, "stay in gear, retarder on", "takes off 8 km/h (5 mph)", "brake to a full stop")
	says(t, "the list", p.Rows[1].What, "SLOW DOWN from here, for hill 1: from 72 km/h (44 mph) to 36 km/h (22 mph)")
	var html bytes.Buffer
	if err := TripHTML(&html, x, A4); err != nil {
		t.Fatal(err)
	}
	says(t, "the page", html.String(), p.Rise, one)
	x.Entries[0].Holds[0].Levers, x.Entries[0].Holds[0].Stage = []catalog.Lever{catalog.EngineDragLever()}, 0
	p = x.page()
	says(t, "a truck without a retarder", p.Head+"\n"+p.Rise, "EVERY HILL HOLDS ON ENGINE DRAG ALONE: NO RETARDER", "foot off the fuel")
	not := trip(a, catalog.Hold{})
	if p := not.page(); p.Rise != "" || len(p.Cautions) != len(catalog.Cautions()) {
		t.Errorf("a way that is not held has conditions: %q, %q", p.Rise, p.Cautions)
	}
}

// A long trip takes several sheets, each with the answer.
func TestTripOverSeveralSheets(t *testing.T) {
	x := trip(heldAt("5"), heldAt("5"))
	for i := range 60 {
		x.Sites = append(x.Sites, TripSite{catalog.Site{Kind: catalog.Pullout, Name: "lay-by"}, float64(300 * i)})
	}
	var pdf bytes.Buffer
	if err := TripPDF(&pdf, x, A4); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(strings.Join(strings.Fields(textOfPDF(t, pdf.Bytes())), " "), "EVERY HILL HOLDS"); n < 2 {
		t.Errorf("the answer stands %d times over several sheets", n)
	}
}

// textOfPDF reads a PDF with poppler's pdftotext.
func textOfPDF(t *testing.T, pdf []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "t.pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext, from Debian's poppler-utils: %v", err)
	}
	return string(out)
}
