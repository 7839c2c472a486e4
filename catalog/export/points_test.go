package export

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/data"
	"gradeline/routes"
	"gradeline/terrain"
)

func TestSitesOverlay(t *testing.T) {
	sites := []catalog.Site{
		{ID: "s1", Kind: catalog.BrakeCheck, Name: hostileName, Point: terrain.Point{LonDeg: -110.123456789, LatDeg: 44}, StationM: ptr(1150.0)},
		{ID: "s2", Kind: catalog.Pullout, Point: terrain.Point{LonDeg: 180, LatDeg: -17}},
	}
	d := conforms(t, keep(t, "sites.geojson", func(w io.Writer) error { return SitesOverlay(w, sites, true) }))
	if len(d.Features) != 2 || string(d.Features[0].Geometry.Coordinates) != "[-110.1234568,44]" || d.Features[0].Properties["name"] != hostileName || d.Features[1].Properties["station_m"] != nil {
		t.Errorf("%+v", d.Features)
	}
	if d.Gradeline["banner"] != InventedBanner {
		t.Error("not marked as invented")
	}
	for name, ps := range map[string][]Place{
		"off Earth": {{ID: "a", LonDeg: 181}}, "no id": {{}}, "one id twice": {{ID: "a"}, {ID: "a"}}, "NaN": {{ID: "a", LatDeg: math.NaN()}},
		"NaN in the properties": {{ID: "a", Properties: map[string]any{"x_m": math.NaN()}}},
	} {
		if err := PlacesOverlay(io.Discard, ps, PlacesOptions{Kind: "signs"}); !errors.Is(err, terrain.ErrInput) && !errors.Is(err, catalog.ErrImpossible) {
			t.Errorf("%s: %v", name, err)
		}
	}
	signs := write(t, func(w io.Writer) error {
		return PlacesOverlay(w, nil, PlacesOptions{Kind: "signs", Cautions: []string{catalog.SignCaution}, Provenance: []catalog.Provenance{sampleEntry(routes.Forward).Provenance}})
	})
	for _, want := range []string{catalog.SignCaution, "harrow.tif", "INVENTED"} {
		if !bytes.Contains(signs, []byte(want)) {
			t.Errorf("an overlay of signs lacks %q", want)
		}
	}
}

// The chart of every default class agrees with the balance that it draws:
// at each gear's governed speed the curve is the retarder's power less the
// reserve, and the demand is force times speed on the grade with its bound.
func TestHoldingViewFor(t *testing.T) {
	e := sampleEntry(routes.Forward)
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
			if v.Answer != Unknown && c.ID != "us-5axle" {
				t.Errorf("%s: answers %v without a hold", c.ID, v.Answer)
			}
			if len(v.Gears) != c.Truck.GearCount() {
				t.Fatalf("%s: %d gears of %d", c.ID, len(v.Gears), c.Truck.GearCount())
			}
			speed := c.Truck.SpeedFromRPM(1, c.Truck.EngineMaxRPM)
			g := v.Gears[0]
			k := len(g.SpeedMPS) - 1
			want := c.Truck.TopWheelPower(1, speed, nil).AtW(c.Truck.EngineShare(e.Descent.CrestElevationM)) * (1 - c.Truck.ReservePct/100)
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
	if n := len(v.bars(v.barStepM())); n != 80 {
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

// A hill that road load alone holds asks for no stage.
func TestSheetFreeRolling(t *testing.T) {
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Holds[0].Stage, s.Entry.Holds[0].LimitedBy = 0, catalog.LimitFreeRolling
	p := s.page()
	if p.Boxes[1].Big != "off" || !strings.Contains(p.GearIn, "retarder off") || strings.Contains(fmt.Sprint(p), "stage 0") {
		t.Errorf("%v; %s", p.Boxes, p.GearIn)
	}
}
