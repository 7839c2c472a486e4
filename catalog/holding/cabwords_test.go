package holding

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

var (
	usUnits     = regexp.MustCompile(`\d (lb|mph|ft|mi)\b`)
	metricUnits = regexp.MustCompile(`\d (t|km/h|m|km)\b`)
)

// Cautions come in the reader's units: none keeps a figure of the other system.
func TestCautionsAreInTheReadersUnits(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	figures := 0
	for _, c := range classes {
		for _, pct := range []float64{2, 4, 6, 8, 11} {
			h, err := Advise(PlainHill(pct, 5000), c, Options{})
			if err != nil {
				t.Fatal(err)
			}
			us, metric := strings.Join(h.CautionsIn(catalog.US), "\n"), strings.Join(h.CautionsIn(catalog.Metric), "\n")
			if m := metricUnits.FindString(us); m != "" {
				t.Errorf("%s at %g %%: %q in US units: %s", c.ID, pct, m, us)
			}
			if m := usUnits.FindString(metric); m != "" {
				t.Errorf("%s at %g %%: %q in metric: %s", c.ID, pct, m, metric)
			}
			figures += len(usUnits.FindAllString(us, -1))
			if len(h.CautionsIn(catalog.US)) != len(h.Cautions) || len(h.CautionsIn(catalog.Metric)) != len(h.Cautions) {
				t.Errorf("%s at %g %%: %d cautions, %d and %d in the two systems", c.ID, pct, len(h.Cautions), len(h.CautionsUS), len(h.CautionsMetric))
			}
		}
	}
	if figures < 50 {
		t.Errorf("only %d figures seen", figures)
	}
	old := catalog.Hold{Cautions: []string{"as the survey wrote it"}}
	if old.CautionsIn(catalog.US)[0] != old.Cautions[0] || old.CautionsIn(catalog.Metric)[0] != old.Cautions[0] {
		t.Error("an older catalogue's cautions are lost")
	}
}

// Every gear that an answer names carries the name on its lever.
func TestEveryGearOfAnAnswerHasItsName(t *testing.T) {
	c := mustClass(t, "ca-btrain-63t")
	h, err := Advise(PlainHill(5, 5000), c, Options{})
	if err != nil || !h.Holds {
		t.Fatalf("%v, holds %v", err, h.Holds)
	}
	for _, x := range h.Gears {
		if x.GearName != c.Truck.GearName(x.Gear) || x.GearName == "" {
			t.Errorf("gear %d is called %q", x.Gear, x.GearName)
		}
	}
	named := 0
	for _, x := range h.Sensitivity {
		if x.Holds {
			named++
			if want := "gear " + c.Truck.GearName(x.Gear) + ", "; !strings.HasPrefix(x.OutcomeWords(catalog.Metric), want) {
				t.Errorf("%s: %q, want %q", x.Change, x.OutcomeWords(catalog.Metric), want)
			}
		} else if x.OutcomeWords(catalog.US) != "NOT HELD" {
			t.Errorf("%s: %q", x.Change, x.OutcomeWords(catalog.US))
		}
	}
	if named == 0 {
		t.Error("no change of the table holds")
	}
}

// A lever is named by the class, without the engine's size, and never as a merged stage.
func TestLeversAreNamedByTheClass(t *testing.T) {
	h, err := Advise(PlainHill(6, 5000), mustClass(t, "us-5axle"), Options{})
	if err != nil || h.StageWords() != "compression brake at stage 3 of 3" {
		t.Errorf("%v, %q", err, h.StageWords())
	}
	h, err = Advise(PlainHill(7, 5000), mustClass(t, "eu-5axle"), Options{})
	if err != nil || len(h.Levers) != 2 || !strings.Contains(h.StageWords(), "compression brake at stage 2 of 2, hydrodynamic retarder") {
		t.Errorf("%v, %q", err, h.StageWords())
	}
}

// Real kinds of truck, each from a page or two of public figures, are read and advised; what
// the pages themselves say together comes out of the class.
func TestRealTrucksFromPublicFigures(t *testing.T) {
	f, err := os.Open("testdata/real-trucks.toml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	classes, _, err := vehicle.ParseClasses("real-trucks.toml", f)
	if err != nil || len(classes) != 6 {
		t.Fatalf("%v, %d classes", err, len(classes))
	}
	byID := map[string]*vehicle.Truck{}
	for i := range classes {
		byID[classes[i].ID] = &classes[i].Truck
		for _, g := range StandardGrades {
			h, err := Advise(PlainHill(g.DowngradePct, g.LengthM), classes[i], Options{})
			if err != nil {
				t.Errorf("%s: %v", classes[i].ID, err)
			}
			if h.Holds && h.RetarderUsePct > 85.001 {
				t.Errorf("%s on %g %%: %.1f %% in use", classes[i].ID, g.DowngradePct, h.RetarderUsePct)
			}
		}
	}
	close := func(what string, got, want, share float64) {
		if got < want*(1-share) || got > want*(1+share) {
			t.Errorf("%s: %.0f, want %.0f", what, got, want)
		}
	}
	// 850 Nm at the motors and 28 kNm at the rear axle are of one page.
	k := byID["eu-volvo-fe-electric"]
	close("axle torque in the low gear, Nm", k.AppliedForce(k.StageCount(), 1, 2, 2, vehicle.Air{}).DrivenN*k.RollingRadiusM, 28000, 0.01)
	// 2,350 Nm at 1,900 rpm are the 636 hp that "big American engines of 14 to 15 litres" have.
	k = byID["eu-tipper-cursor13"]
	close("decompression brake, W", k.Retarders[0].Stages[0].PowerW(1900), 467.6e3, 0.001)
	k = byID["us-cascadia-dd15"]
	close("engine brake at 2,000 rpm, W", k.Retarders[0].Stages[2].PowerW(2000), 372.8e3*(2000./2100)*(2000./2100), 0.005)
	// A medium truck without a retarder goes down 6 % on its service brakes only.
	for _, c := range classes {
		if c.ID != "us-medium-mbe906" {
			continue
		}
		h, err := Advise(PlainHill(6, 5000), c, Options{})
		if err != nil || h.Holds {
			t.Errorf("%v, holds %v", err, h.Holds)
		}
		remarks := remarks(&c, catalog.US)
		full, empty := SteepestHeldPct(&c, c.MassMaxKg), SteepestHeldPct(&c, c.MassMinKg)
		if !(full >= 1 && full < empty && empty < 15) || len(remarks) == 0 || !strings.Contains(strings.Join(remarks, "\n"), "no retarder: engine drag alone holds 33,000 lb on up to") {
			t.Errorf("%.1f and %.1f %%, %q", full, empty, remarks)
		}
	}
}
