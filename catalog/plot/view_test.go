package plot

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/data"
	"gradeline/routes"
)

// A mark says whose gear it is.
func TestGearMarkNamesItsClass(t *testing.T) {
	e := specimen.Entry(routes.Forward)
	v := ViewFromEntry(&e, &e.Holds[0])
	m := v.Marks[len(v.Marks)-1].Label
	if m.US != "us-5axle, up to 80,000 lb: gear 6 in by here" || m.Metric != "us-5axle, up to 36.2 t: gear 6 in by here" {
		t.Errorf("%+v", m)
	}
	says(t, "the caption", strings.Join(v.Caption, "\n"), "us-5axle", "80,000 lb (36.2 t)")
	if none := ViewFromEntry(&e, nil); slices.ContainsFunc(none.Caption, func(s string) bool { return strings.Contains(s, "us-5axle") }) {
		t.Error("a caption of a mark that is not drawn")
	}
}

// The chart of every default class agrees with the balance that it draws:
// at each gear's governed speed the curve is the retarder's power less the
// reserve, and the demand is force times speed on the grade with its bound.
func TestHoldingViewFor(t *testing.T) {
	e := specimen.Entry(routes.Forward)
	dir, err := data.Files.ReadDir("classes")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, f := range dir {
		if !strings.HasSuffix(f.Name(), ".toml") {
			continue
		}
		b, err := data.Files.ReadFile("classes/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		classes, _, err := vehicle.ParseClasses(f.Name(), bytes.NewReader(b))
		if err != nil {
			continue // another kind of data file
		}
		for i := range classes {
			c := &classes[i]
			n++
			v := HoldingViewFor(&e, c)
			if v.Answer != wording.Unknown && c.ID != "us-5axle" {
				t.Errorf("%s: answers %v without a hold", c.ID, v.Answer)
			}
			if len(v.Gears) != c.Truck.GearCount() {
				t.Fatalf("%s: %d gears of %d", c.ID, len(v.Gears), c.Truck.GearCount())
			}
			speed := c.Truck.SpeedFromRPM(1, c.Truck.EngineMaxRPM)
			g := v.Gears[0]
			k := len(g.SpeedMPS) - 1
			want := c.Truck.TopWheelPower(1, speed, vehicle.Air{}).AtW(c.Truck.EngineShare(e.Descent.CrestElevationM)) * (1 - c.Truck.ReservePct/100)
			if math.Abs(g.SpeedMPS[k]-speed) > 1e-9 || math.Abs(g.PowerW[k]-want) > 1e-6*want || want <= 0 {
				t.Errorf("%s: gear 1 ends at %g m/s and %g W, want %g and %g", c.ID, g.SpeedMPS[k], g.PowerW[k], speed, want)
			}
			d := v.Demand[0]
			at := d.SpeedMPS[20]
			th := math.Atan((e.Descent.MeanDowngradePct + e.Descent.MeanDowngradeErrPct) / 100)
			force := v.MassKg*9.80665*(math.Sin(th)-c.Truck.RollingResistance*math.Cos(th)) -
				0.5*vehicle.AirDensityKgM3(e.Descent.CrestElevationM, nil)*c.Truck.DragAreaM2*at*at
			if math.Abs(d.PowerW[20]-force*at) > 1e-6*force*at {
				t.Errorf("%s: demand %g W, want %g", c.ID, d.PowerW[20], force*at)
			}
			keep(t, fmt.Sprintf("holding-%s.svg", c.ID), func(w io.Writer) error { return HoldingSVG(w, v, catalog.Metric) })
		}
	}
	if n < 4 {
		t.Errorf("only %d default classes drawn", n)
	}
}

// On a hill of 80 km the bars grow longer, so that they still can be told apart.
func TestLongHill(t *testing.T) {
	v := ProfileView{Title: "Long grade"}
	for s := 0.0; s <= 80000; s += 50 {
		v.StationM, v.ElevationM = append(v.StationM, s), append(v.ElevationM, 3000-s*0.03+20*math.Sin(s/900))
	}
	if n := len(v.GradeBars(v.barStepM())); n != 80 {
		t.Errorf("%d bars on 80 km", n)
	}
	texts := svgTexts(t, keep(t, "profile-long.svg", func(w io.Writer) error { return ProfileSVG(w, v, catalog.Metric) }))
	// Both panels share one axis: their data areas start and end together.
	top, low := panel("", "Elevation, m", [2]float64{0, 80}, [2]float64{0, 3000}), panel("km", "%", [2]float64{0, 80}, [2]float64{0, 6})
	top.X.Tick.Marker = plot.TickerFunc(unlabelled)
	areas := stack(draw.NewCanvas(vgsvg.New(500, 300), 500, 300), []*plot.Plot{top, low}, []vg.Length{150, 150})
	if math.Abs(float64(areas[0].Min.X-areas[1].Min.X)) > 1e-9 || math.Abs(float64(areas[0].Max.X-areas[1].Max.X)) > 1e-9 {
		t.Errorf("panels span %v and %v", areas[0].Rectangle, areas[1].Rectangle)
	}
	if !strings.Contains(texts, "downgrade of every 1 km (0.6 mi)") {
		t.Error("the plot doesn't say how long its bars are")
	}
}
