package holding

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// A plain grade does not say where its tightest curve is: no stretch of it is taken faster than that
// curve, and the answer's single speed is what it is with the radius at every node.
func TestACurveOfAPlainGradeMayBeAnywhere(t *testing.T) {
	c := mustClass(t, "us-5axle")
	for _, lengthM := range []float64{300, 2000, 6000, 120e3} {
		h, err := Advise(WithCurve(PlainHill(4, lengthM), 60), c, Options{})
		if err != nil || !h.Holds {
			t.Fatal(err, h.Holds)
		}
		most, _ := vehicle.CurveSpeedMPS(60, c.CurveRolloverShare())
		if h.SpeedMPS > most {
			t.Errorf("%.0f m: %.1f m/s, the curve takes %.1f", lengthM, h.SpeedMPS, most)
		}
		for _, s := range h.Stretches {
			if s.SpeedMPS > most || s.Slowing != nil {
				t.Errorf("%.0f m: %.1f m/s from %.0f to %.0f m, the curve takes %.1f", lengthM, s.SpeedMPS, s.FromM, s.ToM, most)
			}
		}
	}
	if h := WithCurve(PlainHill(4, 0), 60); h.RadiusM != nil {
		t.Error("a hill without a length has a curve")
	}
}

// The curve cuts the hill into pieces; a curve that limits nothing changes no figure of the answer.
func TestAWideCurveOfAPlainGradeChangesNothing(t *testing.T) {
	for _, pct := range []float64{3, 6, 8} {
		straight, err1 := Advise(PlainHill(pct, 6000), mustClass(t, "us-5axle"), Options{})
		curved, err2 := Advise(WithCurve(PlainHill(pct, 6000), 3000), mustClass(t, "us-5axle"), Options{})
		if err1 != nil || err2 != nil || straight.SpeedMPS != curved.SpeedMPS || straight.Gear != curved.Gear || straight.Stage != curved.Stage || straight.Holds != curved.Holds {
			t.Errorf("%g %%: %v %v, %v and %v", pct, err1, err2, straight.SpeedMPS, curved.SpeedMPS)
		}
	}
}

// An electric truck that is not held for its battery says so first, and what it would hold with
// room in it.
func TestAFullBatteryIsTheFirstReason(t *testing.T) {
	c := electricClass(t, 88)
	h, err := Advise(PlainHill(6, 9656), c, Options{})
	if err != nil || h.Holds {
		t.Fatal(err, h.Holds)
	}
	for _, words := range []string{h.Words.US, h.Words.Metric} {
		if !strings.HasPrefix(words, "From 88 % at the crest the battery is full before the foot, so recuperation is not counted; from ") || !strings.Contains(words, " or less at the crest gear ") {
			t.Error(words)
		}
	}
	room := h.Charge.MostAtCrestPct
	withRoom, err := Advise(PlainHill(6, 9656), c, Options{ChargePct: &room})
	if err != nil || !withRoom.Holds || !strings.Contains(h.Words.Metric, catalog.Metric.Speed(withRoom.SpeedMPS)) {
		t.Errorf("%v, %s with room, in words %q", err, catalog.Metric.Speed(withRoom.SpeedMPS), h.Words.Metric)
	}
	cold := -10.0
	if h, err = Advise(PlainHill(6, 9656), c, Options{TempC: &cold}); err != nil || h.Holds || !strings.HasPrefix(h.Words.US, "Recuperation is not counted in air below freezing, and without it: ") {
		t.Error(err, h.Words.US)
	}
	c = electricClass(t, 88)
	c.Truck.Retarders[0].StageSharePct, c.Truck.Retarders[0].TorqueLimitNm = []float64{100}, 3200
	if h, err = Advise(PlainHill(6, 9656), c, Options{}); err != nil || h.Holds || !strings.Contains(h.Words.US, "even with room in the battery the driven wheels would not grip enough") {
		t.Error(err, h.Words.US)
	}
}

// Discs adjust themselves, and without a retarder there is none that could fail to hold.
func TestWordsFitTheTrucksBrakes(t *testing.T) {
	for id, want := range map[string]string{"us-5axle": "two service brakes in ten out of adjustment", "eu-5axle": "two service brakes in ten without effect"} {
		h, err := Advise(PlainHill(4, 3000), mustClass(t, id), Options{})
		found := false
		for _, s := range h.Sensitivity {
			found = found || s.Change == want
		}
		if err != nil || !found {
			t.Errorf("%s: %v, %v", id, err, h.Sensitivity)
		}
	}
	h, err := Advise(PlainHill(2, 3000), bareClass(t, "us-5axle", 12.8), Options{})
	if up := h.OneGearUpIn(catalog.US); err != nil || !h.Holds || strings.Contains(up, "retarder") || !strings.Contains(up, "engine drag") {
		t.Errorf("%v: %q", err, up)
	}
}

// Figures of another unit that are possible all the same are remarked on, before the defaults; the
// default classes and the template have none of them.
func TestCheckRemarksOnFiguresOfAnotherUnit(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	for i := range classes {
		if r := sizeRemarks(&classes[i], catalog.US); len(r) > 0 {
			t.Errorf("%s: %v", classes[i].ID, r)
		}
	}
	change := func(id string, f func(*vehicle.Class)) vehicle.Class {
		c := mustClass(t, id)
		f(&c)
		return c
	}
	for want, c := range map[string]vehicle.Class{
		"were pounds written as kilograms?": change("us-5axle", func(c *vehicle.Class) { c.AxleLoadKg = 17_000 }),
		"were kilograms written as pounds?": change("us-5axle", func(c *vehicle.Class) { c.MassMaxKg *= catalog.PoundKg }),
		"is a van's":                        change("us-5axle", func(c *vehicle.Class) { c.Truck.RollingRadiusM = 1000 / (2 * 3.14159 * 497) }),
		"written as pound-feet": change("eu-5axle", func(c *vehicle.Class) {
			c.Truck.Retarders[len(c.Truck.Retarders)-1] = vehicle.Retarder{Kind: vehicle.DrivelineRetarder, TorqueLimitNm: 4100 * 1.3558}
		}),
	} {
		if r := sizeRemarks(&c, catalog.Metric); len(r) != 1 || !strings.Contains(r[0], want) {
			t.Errorf("want one remark with %q, got %q", want, r)
		}
	}
	found, err := Check([]vehicle.Class{change("us-5axle", func(c *vehicle.Class) {
		c.AxleLoadKg = 17_000
		c.Defaults = []vehicle.Default{{Class: c.ID, Figure: "x", Value: "1"}}
	})}, catalog.US)
	if err != nil || !strings.Contains(found[0].Remark, "were pounds") {
		t.Errorf("%v: %+v", err, found[0])
	}
}

// classes check and hold give one answer for one grade.
func TestCheckIsWhatHoldSays(t *testing.T) {
	c := mustClass(t, "us-5axle")
	found, err := Check([]vehicle.Class{c}, catalog.US)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		if f.Hold == nil {
			continue
		}
		h, err := Advise(PlainHill(f.Grade.DowngradePct, f.Grade.LengthM), c, Options{Weather: UsualWeather()})
		if err != nil || h.Gear != f.Hold.Gear || h.SpeedMPS != f.Hold.SpeedMPS {
			t.Errorf("%v: %v and %v", err, h.SpeedMPS, f.Hold.SpeedMPS)
		}
	}
}
