package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// svgTexts parses an SVG as strict XML and returns the texts in it.
func svgTexts(t *testing.T, svg []byte) string {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(svg))
	var out []string
	depth := 0
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("SVG is no well-formed XML: %v", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if depth == 0 && tok.Name.Local != "svg" {
				t.Fatalf("root is %s", tok.Name.Local)
			}
			if tok.Name.Local == "script" {
				t.Fatal("a script in an SVG")
			}
			depth++
		case xml.EndElement:
			depth--
		case xml.CharData:
			if s := strings.TrimSpace(string(tok)); s != "" {
				out = append(out, s)
			}
		}
	}
	return strings.Join(out, "\n")
}

func TestProfilePlot(t *testing.T) {
	e := specimen.Entry(routes.Forward)
	v := ViewFromProfile(specimen.Profile(), &e, &e.Holds[0], 800)
	svg := keep(t, "profile-us.svg", func(w io.Writer) error { return ProfileSVG(w, v, catalog.US) })
	texts := svgTexts(t, svg)
	path := filepath.Join(t.TempDir(), "a.svg")
	if err := os.WriteFile(path, svg, 0o600); err != nil {
		t.Fatal(err)
	}
	if img, err := png.Decode(strings.NewReader(run(t, "librsvg2-bin", "rsvg-convert", path))); err != nil || img.Bounds().Dx() < 500 {
		t.Errorf("librsvg draws %v, %v", img, err)
	}
	for _, want := range []string{"Elevation, ft", "Downgrade, %", "Distance from the crest, in travel, mi", "gear 6 in by here",
		"steepest 1,600 ft: 8.1 %", "bridge", "void", "crest 6,193 ft", "radius 688 ft", "bench 1.4 %", "(95 %)", "the thin line on a bar", wording.InventedBanner, "not field-checked", "harrow.tif", "planning aid"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the plot lacks %q", want)
		}
	}
	b := keep(t, "profile-metric.png", func(w io.Writer) error { return ProfilePNG(w, v, catalog.Metric) })
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	dark := 0
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			r, g, bl, _ := img.At(x, y).RGBA()
			if r != g || g != bl {
				t.Fatalf("a pixel in colour at %d, %d: the plot is for one black ink", x, y)
			}
			if r < 0x4000 {
				dark++
			}
		}
	}
	if share := float64(dark) / float64(img.Bounds().Dx()*img.Bounds().Dy()); share < 0.01 || share > 0.2 {
		t.Errorf("%.3f of the plot is dark", share)
	}
}

// A road drawn from its other end is the same road: bars and marks agree.
func TestProfileBackward(t *testing.T) {
	f, b := specimen.Entry(routes.Forward), specimen.Entry(routes.Backward)
	vf := ViewFromProfile(specimen.Profile(), &f, &f.Holds[0], 500)
	vb := ViewFromProfile(specimen.Flipped(specimen.Profile()), &b, &b.Holds[0], 500)
	bf, bb := vf.GradeBars(100), vb.GradeBars(100)
	if len(bf) != len(bb) || len(bf) < 70 {
		t.Fatalf("%d bars forward, %d backward", len(bf), len(bb))
	}
	for i := range bf {
		if math.Abs(bf[i].DowngradePct-bb[i].DowngradePct) > 1e-9 || bf[i].Measured != bb[i].Measured || math.Abs(bf[i].errPct-bb[i].errPct) > 1e-9 || math.Abs(bf[i].FromM-bb[i].FromM) > 1e-6 {
			t.Fatalf("bar %d: %+v forward, %+v backward", i, bf[i], bb[i])
		}
	}
	for i := range vf.Marks {
		if a, b := vf.DistanceM(vf.Marks[i].FromM), vb.DistanceM(vb.Marks[i].FromM); math.Abs(a-b) > 1e-6 || vf.Marks[i].Label != vb.Marks[i].Label {
			t.Errorf("mark %q at %g m forward, %q at %g m backward", vf.Marks[i].Label, a, vb.Marks[i].Label, b)
		}
	}
	// A bar's line is the profile's own bound there, wider where something was eased.
	p := specimen.Profile()
	p.EaseM, p.Bound.EaseShare = make([]float64, p.Count()), 1
	for i := range p.EaseM {
		p.EaseM[i] = -2 * math.Max(0, math.Min(1, (p.StationM(i)-f.Descent.StartM-1000)/100))
	}
	for i, x := range func() []gradeBar { v := ViewFromProfile(p, &f, nil, 500); return v.GradeBars(100) }() {
		eased := x.FromM < 1099 && x.ToM > 1001
		if wider := x.errPct > bf[i].errPct+1.9; wider != eased || bf[i].errPct < 0.1 {
			t.Errorf("bar at %.0f m: bound %.2f, %.2f where nothing was eased", x.FromM, x.errPct, bf[i].errPct)
		}
	}
	keep(t, "profile-backward.svg", func(w io.Writer) error { return ProfileSVG(w, vb, catalog.Metric) })
	// The bars' drops add up to the profile's own.
	drop := 0.0
	for _, x := range bf {
		drop += x.DowngradePct / 100 * (x.ToM - x.FromM)
	}
	if n := len(vf.ElevationM); math.Abs(drop-(vf.ElevationM[0]-vf.ElevationM[n-1])) > 1e-6 {
		t.Errorf("bars drop %g m, the profile %g m", drop, vf.ElevationM[0]-vf.ElevationM[n-1])
	}
}

// Many at once draw what one draws alone.
func TestPlotsConcurrently(t *testing.T) {
	e := specimen.Entry(routes.Forward)
	v := ViewFromProfile(specimen.Profile(), &e, nil, 500)
	want := write(t, func(w io.Writer) error { return ProfileSVG(w, v, catalog.US) })
	got := make(chan []byte)
	for range 4 {
		go func() {
			var b bytes.Buffer
			_ = ProfileSVG(&b, v, catalog.US) // a failure shows as other bytes
			got <- b.Bytes()
		}()
	}
	for range 4 {
		if !bytes.Equal(<-got, want) {
			t.Error("drawn beside others, the profile came out different")
		}
	}
}

func TestProfileRefuses(t *testing.T) {
	e := specimen.Entry(routes.Forward)
	good := ViewFromEntry(&e, nil)
	if err := ProfileSVG(io.Discard, good, catalog.US); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(v *ProfileView){
		"no stations":  func(v *ProfileView) { v.StationM = nil },
		"short series": func(v *ProfileView) { v.ElevationM = v.ElevationM[1:] },
		"wrong way":    func(v *ProfileView) { v.Direction = routes.Backward },
		"no height": func(v *ProfileView) {
			v.ElevationM = make([]float64, len(v.StationM))
			for i := range v.ElevationM {
				v.ElevationM[i] = math.NaN()
			}
		},
		"repeated place": func(v *ProfileView) {
			v.StationM = append([]float64(nil), v.StationM...)
			v.StationM[3] = v.StationM[2]
		},
	} {
		v := good
		spoil(&v)
		if err := ProfileSVG(io.Discard, v, catalog.US); !errors.Is(err, catalog.ErrImpossible) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// sampleHolding is a made-up truck's chart: constant grades, so demand grows
// straight with speed but for the air, and gears of one engine.
func sampleHolding() HoldingView {
	v := HoldingView{Title: "Harrow Hill Road, heading east", Class: "us-5axle", MassKg: 36287, ReservePct: 15, Invented: true,
		Answer: wording.Held, Gear: 6, SpeedMPS: 27 * 0.44704, Caption: catalog.Cautions()[:1]}
	for _, d := range []struct {
		label string
		pct   float64
	}{{"mean downgrade 6.2 %", 6.2}, {"steepest 500 m with its bound, 8.3 %", 8.3}} {
		s := Series{Label: d.label}
		for k := 0.0; k <= 30; k++ {
			s.SpeedMPS = append(s.SpeedMPS, k)
			s.PowerW = append(s.PowerW, math.Max(0, 36287*9.80665*(d.pct/100-0.005)*k-0.5*1.0*6*k*k*k))
		}
		v.Demand = append(v.Demand, s)
		v.DemandW = s.PowerW[12]
	}
	for gear, ratio := range []float64{14.8, 10.95, 8.09, 5.97, 4.46, 3.32, 2.45, 1.81, 1.35, 1} {
		g := GearSeries{Gear: gear + 1}
		for rpm := 1200.0; rpm <= 2100; rpm += 100 {
			g.SpeedMPS = append(g.SpeedMPS, rpm*2*math.Pi/60/(ratio*3.7)*0.5)
			g.PowerW = append(g.PowerW, 0.85*380e3*math.Pow(rpm/2100, 1.6))
		}
		v.Gears = append(v.Gears, g)
	}
	return v
}

func TestHoldingChart(t *testing.T) {
	v := sampleHolding()
	texts := svgTexts(t, keep(t, "holding.svg", func(w io.Writer) error { return HoldingSVG(w, v, catalog.US) }))
	for _, want := range []string{"Road speed, mph", "Power at the wheels, hp", "gear 6, 27 mph", "Demand: mean downgrade 6.2 %", "reserve of 15 %", wording.InventedBanner, "planning aid"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the chart lacks %q", want)
		}
	}
	v.Answer, v.Gear, v.SpeedMPS = wording.NotHeld, 0, 0
	if texts := svgTexts(t, write(t, func(w io.Writer) error { return HoldingSVG(w, v, catalog.Metric) })); !strings.Contains(texts, "NOT HELD") || strings.Contains(texts, "gear 0") {
		t.Error("a class that is not held is not told so in words")
	}
	keep(t, "holding.png", func(w io.Writer) error { return HoldingPNG(w, v, catalog.Metric) })
	v.Demand = nil
	if err := HoldingSVG(io.Discard, v, catalog.US); !errors.Is(err, catalog.ErrImpossible) {
		t.Errorf("no demand: %v", err)
	}
}

func TestHeatChart(t *testing.T) {
	e := specimen.Entry(routes.Backward)
	h := e.Holds[1]
	h.Statuses = []catalog.FigureStatus{{Figure: "K1", Status: "from memory"}}
	for s := 0.0; s <= 6500; s += 250 {
		h.Heat = append(h.Heat, catalog.HeatStation{StationM: e.Descent.StartM - s, TempC: 66 + 250*(1-math.Exp(-s/3000)), BalanceC: 66 + 230*(1-math.Exp(-s/3300)), ForceShare: 1 - 0.3*s/6500})
	}
	v := HeatViewFor(&e, &h)
	v.LimitC, v.LimitSource = 260, "(500 °F)"
	texts := svgTexts(t, keep(t, "heat.svg", func(w io.Writer) error { return HeatSVG(w, v, catalog.US) }))
	for _, want := range []string{"Service brakes, °F", "Braking force left, %", "K1 from memory", "500 °F:", "Not advice", "not field-checked"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the chart lacks %q", want)
		}
	}
	keep(t, "heat.png", func(w io.Writer) error { return HeatPNG(w, v, catalog.Metric) })
	v.TempC = v.TempC[1:]
	if err := HeatSVG(io.Discard, v, catalog.US); !errors.Is(err, catalog.ErrImpossible) {
		t.Errorf("series that differ: %v", err)
	}
}

// A low panel has two heights, since one gives no scale, and no more than it has room for.
func TestLowPanelHasTwoHeights(t *testing.T) {
	for _, r := range [][2]float64{{2600, 4900}, {4580, 5155}, {820, 1480}, {0, 11}, {-3, 4}, {995, 1405}} {
		out := fewestTicks(r[0], r[1])
		if len(out) < 2 || len(out) > 3 {
			t.Errorf("%v: %d ticks: %v", r, len(out), out)
		}
		for _, x := range out {
			if x.Value < r[0] || x.Value > r[1] {
				t.Errorf("%v: a tick at %g", r, x.Value)
			}
		}
	}
}

// The profile of a driver's page has no text under 9 pt where A4 makes it a little smaller.
func TestSheetProfileIsLegible(t *testing.T) {
	const a4 = (210 - 2*10.0) / 25.4 / 7.5 // the width between the page's margins, to that of the figure
	e := specimen.Entry(routes.Forward)
	for _, h := range []SheetHeight{SheetTall, SheetMedium, SheetLow} {
		f, err := SheetProfile(ViewFromProfile(specimen.Profile(), &e, &e.Holds[0], 500), catalog.US, h)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := f.SVG(&b); err != nil {
			t.Fatal(err)
		}
		sizes := regexp.MustCompile(`font-size:([0-9.]+)px`).FindAllStringSubmatch(b.String(), -1)
		if len(sizes) < 5 {
			t.Fatalf("%d texts in %.300s", len(sizes), b.String())
		}
		for _, m := range sizes {
			if pt, err := strconv.ParseFloat(m[1], 64); err != nil || pt*a4 < 8.97 {
				t.Errorf("height %d: a text of %s pt is %.2f pt on A4", h, m[1], pt*a4)
			}
		}
	}
}
