package holding

import (
	"math"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

func classNamed(t *testing.T, id string) vehicle.Class {
	t.Helper()
	list, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range list {
		if c.ID == id {
			return c
		}
	}
	t.Fatalf("no class %s", id)
	return vehicle.Class{}
}

func runsOf(t *testing.T, pct, lengthM float64, id string) (catalog.Hold, map[string]BrakeRun) {
	t.Helper()
	c := classNamed(t, id)
	h := PlainHill(pct, lengthM)
	hold, err := Advise(h, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	runs, err := BrakeRuns(h, c, Options{}, hold.Gear, hold.SpeedMPS)
	if err != nil {
		t.Fatal(err)
	}
	by := map[string]BrakeRun{}
	for _, r := range runs {
		by[r.Way] = r
	}
	return hold, by
}

// The dragged run follows the closed form of the grade-severity model, whose vectors
// checks_test.go holds, and the drum's balance: whichever is the hotter at the foot.
func TestDraggedRunIsTheHotterOfBothModels(t *testing.T) {
	hold, by := runsOf(t, 4, 3000, "us-5axle")
	r := by[WayDragged]
	last, want := r.Stations[len(r.Stations)-1], hold.Heat[len(hold.Heat)-1]
	hot := math.Max(want.TempC, want.BalanceC)
	if r.LostM != nil || math.Abs(last.TempC-hot) > 2 || math.Abs(last.DistanceM-3000) > 1e-6 {
		t.Errorf("at the foot %.1f °C at %.0f m, lost %v; the heat chain says %.1f", last.TempC, last.DistanceM, r.LostM, hot)
	}
	if math.Abs(last.StrokeM-want.StrokeM) > 2e-4 || math.Abs(last.LeftShare-want.ForceShare) > 0.02 {
		t.Errorf("stroke %.4f m, left %.2f; the heat chain says %.4f, %.2f", last.StrokeM, last.LeftShare, want.StrokeM, want.ForceShare)
	}
}

// Where the drum is so heavy that its balance stays cool, the run follows the grade-severity model:
// the closed form, section by section, of the same advice.
func TestDraggedRunFollowsTheSeverityModelToo(t *testing.T) {
	c := classNamed(t, "us-5axle")
	c.Truck.ServiceBrakes.DrumMassKg = 120
	h := PlainHill(4, 3000)
	hold, err := Advise(h, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	runs, err := BrakeRuns(h, c, Options{}, hold.Gear, hold.SpeedMPS)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range runs {
		if r.Way != WayDragged {
			continue
		}
		last, want := r.Stations[len(r.Stations)-1], hold.Heat[len(hold.Heat)-1]
		if want.TempC < want.BalanceC+5 {
			t.Fatalf("the severity model is at %.1f °C, the balance at %.1f", want.TempC, want.BalanceC)
		}
		if rise := want.TempC - r.Stations[0].TempC; math.Abs(last.TempC-want.TempC) > 0.01*rise {
			t.Errorf("%.2f °C at the foot, by the closed form %.2f", last.TempC, want.TempC)
		}
	}
}

// Unused brakes cool; snubbed ones take the same work as dragged ones, so their mean
// heat differs little; one gear up is in between.
func TestWaysDownInOrderOfHeat(t *testing.T) {
	_, by := runsOf(t, 4, 3000, "us-5axle")
	cold, drag, snub, up := by[WayRetarder], by[WayDragged], by[WaySnubbed], by[WayGearUp]
	foot := func(r BrakeRun) float64 { return r.Stations[len(r.Stations)-1].TempC }
	if start := cold.Stations[0].TempC; foot(cold) > start || cold.PeakC > start+1e-9 || cold.WorkingM != nil {
		t.Errorf("unused brakes go from %.1f to %.1f °C", start, foot(cold))
	}
	if foot(up) > foot(drag) || foot(up) < foot(cold) {
		t.Errorf("one gear up %.1f °C, dragged %.1f, unused %.1f", foot(up), foot(drag), foot(cold))
	}
	if rise, same := foot(snub)-snub.Stations[0].TempC, foot(drag)-drag.Stations[0].TempC; rise < 0.75*same || rise > 1.35*same {
		t.Errorf("snubbed +%.1f °C, dragged +%.1f: the hill's work is the same", rise, same)
	}
	if !(cold.StopM < drag.StopM) || math.IsInf(cold.StopM, 1) {
		t.Errorf("stop %.1f m cold, %.1f m dragged", cold.StopM, drag.StopM)
	}
}

// A stop by hand: v·(2.5 + 0.5 s) + v²/(2·(14 ft/s²·left − what the hill pulls)), with
// the stop's own heat, 3.11·10⁻⁷·W·V² °F, growing a 16.5 in drum by 11·10⁻⁶ a kelvin and
// a type-30 chamber losing half its force from 2 to 2½ in.
func TestStopAtTheFoot(t *testing.T) {
	hold, by := runsOf(t, 4, 3000, "us-5axle")
	v, pull := hold.SpeedMPS, 9.80665*(0.04-classNamed(t, "us-5axle").Truck.RollingResistance)/math.Sqrt(1+0.04*0.04)
	last := by[WayRetarder].Stations[len(by[WayRetarder].Stations)-1]
	mph := v / 0.44704
	hotterC := last.TempC + 3.11e-7*80000*mph*mph*5/9 - by[WayRetarder].Stations[0].TempC
	left := 1 - math.Max(0, 11e-6*16.5*hotterC*0.25/0.020)
	want := v*3 + v*v/(2*(14*0.3048*left-pull))
	if got := by[WayRetarder].StopM; math.Abs(got-want) > 0.01*want {
		t.Errorf("%.2f m, by hand %.2f", got, want)
	}
}

// A long steep hill takes dragged drums past the stroke: the run ends where nothing is
// left to hold, well after the working range.
func TestDraggedToTheEnd(t *testing.T) {
	_, by := runsOf(t, 8, 12000, "us-5axle")
	r := by[WayDragged]
	if r.LostM == nil || r.WorkingM == nil || !(*r.WorkingM < *r.LostM) || !math.IsInf(r.StopM, 1) {
		t.Fatalf("%+v", r)
	}
	if last := r.Stations[len(r.Stations)-1]; math.Abs(last.DistanceM-*r.LostM) > 1e-6 {
		t.Errorf("the last station %.0f m, lost at %.0f", last.DistanceM, *r.LostM)
	}
	if *r.LostM > 6000 {
		t.Errorf("held until %.0f m", *r.LostM)
	}
}

// A type-30 brake: full force up to 2 in, half at 2½ in, nothing beyond (common practice; the
// rated stroke second-hand), and 0.0605 in of drum growth for 600 °F is 0.756 in of stroke.
func TestAdjustmentCases(t *testing.T) {
	b := classNamed(t, "us-5axle").Truck.ServiceBrakes
	if b.Chamber != "30" {
		t.Fatalf("chamber %s", b.Chamber)
	}
	b.PoorLining = true
	cases := AdjustmentCases(b, vehicle.WorkingFromC, vehicle.WorkingFromC+600.0*5/9)
	want := []struct {
		what          string
		in, cold, hot float64
	}{{"½ in under the limit", 1.5, 1, 2.256}, {"as the class adjusts it, at the legal limit", 2, 1, 2.756}, {"¼ in beyond the limit", 2.25, 0.75, 3.006}}
	if len(cases) != len(want) {
		t.Fatalf("%+v", cases)
	}
	for i, w := range want {
		k := cases[i]
		hot := 0.0
		if w.hot <= 2.5 {
			hot = (1 - 0.5*(w.hot-2)/0.5) * 2 / 3 // chamber and poor lining
		}
		if k.What != w.what || math.Abs(k.StrokeM/catalog.InchM-w.in) > 1e-9 || math.Abs(k.HotStrokeM/catalog.InchM-w.hot) > 0.01 || math.Abs(k.ColdShare-w.cold) > 1e-6 || math.Abs(k.HotShare-hot) > 0.01 {
			t.Errorf("%+v, want %s, %.3f in, %.3f in hot, %.2f, %.2f", k, w.what, w.in, w.hot, w.cold, hot)
		}
	}
	b.AdjustedStrokeM = 1.75 * catalog.InchM
	if other := AdjustmentCases(b, 65, 300); len(other) != 4 || other[1].What != "as the class adjusts it" {
		t.Errorf("%+v", other)
	}
	if c := classNamed(t, "eu-5axle").Truck.ServiceBrakes; AdjustmentCases(c, 65, 300) != nil {
		t.Error("a disc brake has a stroke")
	}
}

func TestSmokeAndStopConstants(t *testing.T) {
	if f := catalog.FFromC(SmokeFromC); math.Abs(f-700) > 1e-9 {
		t.Errorf("smoke from %.1f °F", f)
	}
	// 2.5 s to see and act (AASHTO), half a second of lag of air brakes (common practice), 14 ft/s²
	// (49 CFR 393.52), each from memory.
	if math.Abs(reactS-2.5) > 0.01 || math.Abs(airLagS-0.5) > 0.01 || math.Abs(ColdStopMPS2-4.2672) > 0.001 {
		t.Errorf("%.2f s, %.2f s, %.3f m/s²", reactS, airLagS, ColdStopMPS2)
	}
	if math.Abs(snubDecelMPS2-5*0.44704/3) > 1e-9 {
		t.Errorf("a snub at %.3f m/s²", snubDecelMPS2)
	}
}
