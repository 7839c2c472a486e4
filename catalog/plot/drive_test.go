package plot

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

func sampleDrive() DriveView {
	e := specimen.Entry(routes.Backward)
	v := DriveView{Profile: ViewFromEntry(&e, nil), LengthM: e.Descent.LengthM, Says: wording.AsIs("Over the advised speed."), AdviceMPS: 11, GearByM: -120, Gear: "6",
		SpeedAdv: wording.Both{Metric: "gear 6, 39 km/h", US: "gear 6, 24 mph"}, OverM: [][2]float64{{1000, 1500}}, Marks: []DriveMark{{2000, wording.AsIs("stop, 40 s")}}, Caption: []string{"Recording: x."}}
	for d := -300.0; d <= e.Descent.LengthM; d += 20 {
		v.DistanceM, v.SpeedMPS, v.AfterGap = append(v.DistanceM, d), append(v.SpeedMPS, 10.5+2*math.Exp(-math.Pow((d-1250)/200, 2))), append(v.AfterGap, d == 700)
	}
	return v
}

func TestDrivePlot(t *testing.T) {
	v := sampleDrive()
	texts := svgTexts(t, keep(t, "drive.svg", func(w io.Writer) error { return DriveSVG(w, v, catalog.US) }))
	for _, want := range []string{"Speed, mph", "Elevation, ft", "crest", "gear 6 in by here", "stop, 40 s", "Advised: gear 6, 24 mph", "Recording: x.", "Distance from the crest, in travel, mi"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the plot lacks %q", want)
		}
	}
	keep(t, "drive.png", func(w io.Writer) error { return DrivePNG(w, v, catalog.Metric) })
	// Bars have a line each in the key, and a stroke for each stretch that is shown.
	bare := strings.Count(string(write(t, func(w io.Writer) error { return DriveSVG(w, v, catalog.US) })), "<path")
	v.Bars = []DriveBar{{"Service brakes on", [][2]float64{{100, 180}, {400, 401}, {900000, 900100}}}, {"Out of gear", [][2]float64{{600, 700}}}}
	barred := write(t, func(w io.Writer) error { return DriveSVG(w, v, catalog.US) })
	if texts := svgTexts(t, barred); !strings.Contains(texts, "Service brakes on") || !strings.Contains(texts, "Out of gear") {
		t.Errorf("the key lacks the bars: %s", texts)
	}
	if n := strings.Count(string(barred), "<path") - bare; n != 2+3 {
		t.Errorf("%d strokes for two lines of the key and three stretches", n)
	}
	v.Bars = make([]DriveBar, len(barStrokes)+1)
	if err := DriveSVG(io.Discard, v, catalog.US); err == nil {
		t.Error("more rows of bars than strokes")
	}
	v.Bars = nil
	// Without advice there is no advised line and no gear.
	v.AdviceMPS, v.OverM = 0, nil
	if texts := svgTexts(t, write(t, func(w io.Writer) error { return DriveSVG(w, v, catalog.Metric) })); strings.Contains(texts, "Advised") || strings.Contains(texts, "gear") {
		t.Errorf("advice where there is none: %s", texts)
	}
	for name, spoil := range map[string]func(*DriveView){
		"one point": func(v *DriveView) {
			v.DistanceM, v.SpeedMPS, v.AfterGap = v.DistanceM[:1], v.SpeedMPS[:1], v.AfterGap[:1]
		},
		"lengths":    func(v *DriveView) { v.SpeedMPS = v.SpeedMPS[1:] },
		"no number":  func(v *DriveView) { v.SpeedMPS[5] = math.NaN() },
		"no profile": func(v *DriveView) { v.Profile.StationM, v.Profile.ElevationM = nil, nil },
		"no heights": func(v *DriveView) { v.Profile.ElevationM = nans(len(v.Profile.ElevationM)) },
	} {
		v := sampleDrive()
		spoil(&v)
		if err := DriveSVG(io.Discard, v, catalog.US); !errors.Is(err, catalog.ErrImpossible) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Of several drives the key says whose bars and area are drawn, and the area hides no other drive.
func TestDrivesTogether(t *testing.T) {
	v := sampleDrive()
	v.Name, v.Bars = "Drive 2", []DriveBar{{"Out of gear", [][2]float64{{600, 700}}}}
	slower := make([]float64, len(v.SpeedMPS))
	for i := range slower {
		slower[i] = 11.2
	}
	v.Others = []DriveLine{{"Drive 1", v.DistanceM, slower, nil}}
	svg := string(write(t, func(w io.Writer) error { return DriveSVG(w, v, catalog.Metric) }))
	texts := svgTexts(t, []byte(svg))
	for _, want := range []string{"Drive 1", "Drive 2: Out of gear", "Grey and hatched: Drive 2: over it"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the key lacks %q: %s", want, texts)
		}
	}
	area, other := strings.LastIndex(svg, "fill:#CDCDCD"), strings.Index(svg, "stroke:#8C8C8C;stroke-width:1.2")
	if area < 0 || other < area {
		t.Errorf("the area at byte %d is drawn over the other drive at %d", area, other)
	}
}

func nans(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.NaN()
	}
	return out
}
