package main

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// drawnHill is a true hill: even from its crest to its foot.
type drawnHill struct{ crestM, lengthM, gradePct float64 }

// drawnWay is one road east over its own hills, cells to the north of the straight line.
type drawnWay struct {
	name  string
	north float64
	hills []drawnHill
}

// threeWays each go down 240 m from the same height to the same height.
var threeWays = []drawnWay{
	{"Middle Road", 0, []drawnHill{{1500, 3000, 5}, {7000, 1500, 6}}},
	{"North Road", 40, []drawnHill{{1500, 1500, 7}, {5500, 2700, 5}}},
	{"South Road", -40, []drawnHill{{1500, 1200, 8}, {4700, 1600, 4.5}, {8300, 1200, 6}}},
}

const threeWaysLengthM = 12000

func (w *drawnWay) heightM(eastM float64) float64 {
	z := 1500.0
	for _, d := range w.hills {
		z -= d.gradePct / 100 * math.Max(0, math.Min(d.lengthM, eastM-d.crestM))
	}
	return z
}

// makeThreeWays writes the ground of the three roads, and their network with the roads that join
// their ends.
func makeThreeWays(t *testing.T) (dem, network, from, to string) {
	t.Helper()
	h := hill{dir: t.TempDir(), lengthM: threeWaysLengthM}
	g := &terrain.Grid{Cols: int(h.lengthM/degreeM()/cellDeg) + 40, Rows: 160, WestX: hillLonDeg - 20*cellDeg, NorthY: hillLatDeg + 80*cellDeg, StepX: cellDeg, StepY: cellDeg, CRS: "EPSG:4326"}
	for r := range g.Rows {
		way := &threeWays[0]
		if north := 80 - r; north > 20 {
			way = &threeWays[1]
		} else if north < -20 {
			way = &threeWays[2]
		}
		for c := range g.Cols {
			ripple := 0.01 * math.Sin(float64(7*r+3*c)) // no ground is exactly level
			g.ElevationM = append(g.ElevationM, float32(way.heightM((float64(c)+0.5-20)*cellDeg*degreeM())+ripple))
		}
	}
	if err := raster.Write(h.path("dem.tif"), g, raster.WriteOptions{NoData: -9999}); err != nil {
		t.Fatal(err)
	}
	at := func(m, cells float64) string {
		return fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+m/degreeM(), hillLatDeg+cells*cellDeg)
	}
	var roads []string
	for _, w := range threeWays {
		places := []string{at(300, 0), at(300, w.north), at(threeWaysLengthM-300, w.north), at(threeWaysLengthM-300, 0)}
		if w.north == 0 {
			places = []string{places[0], places[3]}
		}
		roads = append(roads, fmt.Sprintf(`{"type":"Feature","properties":{"highway":"primary","bridge":"no","name":%q},"geometry":{"type":"LineString","coordinates":[%s]}}`, w.name, strings.Join(places, ",")))
	}
	text := `{"type":"FeatureCollection","features":[` + strings.Join(roads, ",") + `]}`
	if err := os.WriteFile(h.path("net.geojson"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	place := func(m float64) string { return strings.Trim(at(m, 0), "[]") }
	return h.path("dem.tif"), h.path("net.geojson"), place(300), place(threeWaysLengthM - 300)
}

// tripsOfJSON is what the test reads of route --json.
type tripsOfJSON struct {
	Trips []struct {
		Place    int     `json:"place"`
		LengthM  float64 `json:"length_m"`
		Descents []struct {
			StartM     float64 `json:"start_m"`
			LengthM    float64 `json:"length_m"`
			DropM      float64 `json:"drop_m"`
			MeanPct    float64 `json:"mean_downgrade_pct"`
			MeanErrPct float64 `json:"mean_downgrade_err_pct"`
			Holds      []struct {
				Holds    bool    `json:"holds"`
				GearName string  `json:"gear_name"`
				SpeedMPS float64 `json:"speed_mps"`
			} `json:"holds"`
		} `json:"descents"`
		Ways []struct {
			ID string `json:"id"` // the number of the feature
		} `json:"ways"`
	} `json:"trips"`
}

// The page of each alternative names the hills of its own way, as they were drawn, with the gear
// and speed that --json gives for it.
func TestEveryAlternativeHasItsPage(t *testing.T) {
	dem, network, from, to := makeThreeWays(t)
	dir := t.TempDir()
	args := func(more ...string) []string {
		return append(append([]string{"route", "--class", "us-5axle", "--from", from, "--to", to, "--alternatives", "2", "--terrain", dem, "--units", "metric"}, more...), network)
	}
	var a tripsOfJSON
	if err := json.Unmarshal([]byte(gradeline(t, args("--json")...).want(t, exitDone).out), &a); err != nil {
		t.Fatal(err)
	}
	if len(a.Trips) != len(threeWays) {
		t.Fatalf("%d ways, want %d", len(a.Trips), len(threeWays))
	}
	gradeline(t, args("--page", dir+"/trip.html")...).want(t, exitDone)
	gradeline(t, args("--page", dir+"/trip.pdf")...).want(t, exitDone)
	if list, err := os.ReadDir(dir); err != nil || len(list) != 2*len(threeWays) {
		t.Errorf("%d files, %v", len(list), err)
	}
	seen := map[string]bool{}
	for i, trip := range a.Trips {
		suffix := []string{"", "-2", "-3"}[i]
		way := drawnWayOf(t, trip.Ways[0].ID)
		seen[way.name] = true
		if len(trip.Descents) != len(way.hills) {
			t.Fatalf("%s: %d hills, drawn %d", way.name, len(trip.Descents), len(way.hills))
		}
		var want [][]string // of each hill: drop, gear, speed
		for k, d := range trip.Descents {
			// East of the west end of the ground: each way goes as far north or south at both ends.
			crestM := 300 + d.StartM - (trip.LengthM-(threeWaysLengthM-600))/2
			truePct := (way.heightM(crestM) - way.heightM(crestM+d.LengthM)) / d.LengthM * 100
			if math.Abs(d.MeanPct-truePct) > d.MeanErrPct || math.Abs(crestM-way.hills[k].crestM) > 60 {
				t.Errorf("%s: hill %d is %.2f ± %.2f %% from %.0f m on; drawn %.2f %% there, %+v", way.name, k+1, d.MeanPct, d.MeanErrPct, crestM, truePct, way.hills[k])
			}
			if len(d.Holds) != 1 || !d.Holds[0].Holds {
				t.Fatalf("%s: hill %d: %+v", way.name, k+1, d.Holds)
			}
			want = append(want, []string{fmt.Sprintf("%.0f m", d.DropM), d.Holds[0].GearName, fmt.Sprintf("%d km/h", int(math.Floor(d.Holds[0].SpeedMPS*3.6+1e-6)))})
		}
		for _, ending := range []string{".html", ".pdf"} {
			text := pageText(t, dir+"/trip"+suffix+ending)
			if !strings.Contains(text, fmt.Sprintf("This is way %d of %d", i+1, len(a.Trips))) {
				t.Errorf("trip%s%s isn't the page of way %d", suffix, ending, i+1)
			}
			if got := hillsOfPage(text); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s, %s: the page has %v, --json has %v", way.name, ending, got, want)
			}
		}
	}
	if len(seen) != len(threeWays) {
		t.Errorf("roads of the ways: %v", seen)
	}
}

// drawnWayOf is the drawn road that is this feature of the network.
func drawnWayOf(t *testing.T, id string) *drawnWay {
	t.Helper()
	for i := range threeWays {
		if fmt.Sprint(i+1) == id {
			return &threeWays[i]
		}
	}
	t.Fatalf("no road %q was drawn", id)
	return nil
}

var (
	pageTag  = regexp.MustCompile(`<[^>]*>`)
	pageHill = regexp.MustCompile(`GEAR (\S+) IN, [^.]*?, at most (\d+ km/h)[^.]*\..*?Hill (\d+) begins: .*?; drops (\d+ m)`)
)

// hillsOfPage are drop, gear and speed of each hill, in the order of the page.
func hillsOfPage(text string) [][]string {
	var out [][]string
	for i, m := range pageHill.FindAllStringSubmatch(text, -1) {
		if m[3] != fmt.Sprint(i+1) {
			return [][]string{{"hill out of order", m[3]}}
		}
		out = append(out, []string{m[4], m[1], m[2]})
	}
	return out
}

// pageText is the text of a page; of a PDF by poppler's pdftotext.
func pageText(t *testing.T, file string) string {
	t.Helper()
	b, err := os.ReadFile(file)
	if strings.HasSuffix(file, ".pdf") && err == nil {
		b, err = exec.Command("pdftotext", "-layout", file, "-").Output()
	}
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(pageTag.ReplaceAllString(string(b), " ")), " ")
}

// A GPX has a track of each alternative and a GeoJSON a feature; a page isn't written by -o.
func TestEveryAlternativeIsInTheMapFile(t *testing.T) {
	dem, network, from, to := makeThreeWays(t)
	dir := t.TempDir()
	args := func(more ...string) []string {
		return append(append([]string{"route", "--class", "us-5axle", "--from", from, "--to", to, "--alternatives", "2", "--terrain", dem}, more...), network)
	}
	var a tripsOfJSON
	if err := json.Unmarshal([]byte(gradeline(t, args("--json", "-o", dir+"/trip.gpx")...).want(t, exitDone).out), &a); err != nil {
		t.Fatal(err)
	}
	gradeline(t, args("-o", dir+"/trip.geojson")...).want(t, exitDone)
	var gpx struct {
		Tracks []struct {
			Name string `xml:"name"`
		} `xml:"trk"`
		Hills []struct {
			Name string `xml:"name"`
		} `xml:"wpt"`
	}
	var geo struct {
		Features []struct {
			Properties struct {
				Place    int     `json:"place"`
				LengthM  float64 `json:"length_m"`
				Descents int     `json:"descents"`
			} `json:"properties"`
		} `json:"features"`
	}
	for file, read := range map[string]func([]byte) error{
		"trip.gpx":     func(b []byte) error { return xml.Unmarshal(b, &gpx) },
		"trip.geojson": func(b []byte) error { return json.Unmarshal(b, &geo) },
	} {
		b, err := os.ReadFile(dir + "/" + file)
		if err == nil {
			err = read(b)
		}
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
	}
	if len(a.Trips) != 3 || len(gpx.Tracks) != 3 || len(geo.Features) != 3 || len(gpx.Hills) != len(a.Trips[0].Descents) {
		t.Fatalf("%d ways; GPX %d tracks, %d hills; GeoJSON %d features", len(a.Trips), len(gpx.Tracks), len(gpx.Hills), len(geo.Features))
	}
	for i, trip := range a.Trips {
		if p := geo.Features[i].Properties; p.Place != trip.Place || p.LengthM != trip.LengthM || p.Descents != len(trip.Descents) {
			t.Errorf("GeoJSON: %+v, way %d: %.1f m, %d hills", p, trip.Place, trip.LengthM, len(trip.Descents))
		}
		if !strings.HasSuffix(gpx.Tracks[i].Name, fmt.Sprintf("way %d", trip.Place)) {
			t.Errorf("GPX: track %d is %q", i+1, gpx.Tracks[i].Name)
		}
	}
	for i, d := range a.Trips[0].Descents {
		if w := gpx.Hills[i].Name; !strings.HasPrefix(w, fmt.Sprintf("Hill %d: ", i+1)) || !strings.Contains(w, fmt.Sprintf(": gear %s,", d.Holds[0].GearName)) {
			t.Errorf("GPX: hill %d is %q, gear %s", i+1, w, d.Holds[0].GearName)
		}
	}
	for _, page := range []string{"page.html", "page.pdf"} {
		gradeline(t, args("-o", dir+"/"+page)...).want(t, exitUsage).says(t, "-o", page, "--page")
		if _, err := os.Stat(dir + "/" + page); err == nil {
			t.Errorf("%s was written", page)
		}
	}
}
