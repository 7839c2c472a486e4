package serve

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/holding"
	"gradeline/catalog/ranking"
	"gradeline/catalog/specimen"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/routes/descent"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// The ground of threeWays: even in the north-south direction, and to the east down two hills.
const (
	waysLonDeg, waysLatDeg, waysCellDeg = 10.0, 46.0, 1.0 / 3600
	waysDegreeM                         = 77_400.0 // of longitude there, about
	waysLengthM                         = 9000.0
)

func waysHeightM(eastM float64) float64 {
	return 1500 - 0.055*math.Max(0, math.Min(2500, eastM-1200)) - 0.065*math.Max(0, math.Min(1800, eastM-5500))
}

// threeWays writes a catalogue with a network: three invented roads that join the same two places.
func threeWays(t *testing.T) (path string, from, to string) {
	t.Helper()
	dir := t.TempDir()
	g := &terrain.Grid{Cols: int(math.Ceil(waysLengthM/waysDegreeM/waysCellDeg)) + 40, Rows: 160, WestX: waysLonDeg - 20*waysCellDeg, NorthY: waysLatDeg + 80*waysCellDeg, StepX: waysCellDeg, StepY: waysCellDeg, CRS: "EPSG:4326"}
	for r := range g.Rows {
		for c := range g.Cols {
			ripple := 0.01 * math.Sin(float64(7*r+3*c)) // no ground is exactly level
			g.ElevationM = append(g.ElevationM, float32(waysHeightM((float64(c)+0.5-20)*waysCellDeg*waysDegreeM)+ripple))
		}
	}
	if err := raster.Write(filepath.Join(dir, "dem.tif"), g, raster.WriteOptions{NoData: -9999}); err != nil {
		t.Fatal(err)
	}
	at := func(m, cells float64) string {
		return fmt.Sprintf("%.7f,%.7f", waysLonDeg+m/waysDegreeM, waysLatDeg+cells*waysCellDeg)
	}
	from, to = at(300, 0), at(waysLengthM-300, 0)
	var roads []string
	for name, north := range map[string]float64{"Middle Road": 0, "North Road": 40, "South Road": -40} {
		places := []string{from, at(300, north), at(waysLengthM-300, north), to}
		if north == 0 {
			places = []string{from, to}
		}
		roads = append(roads, fmt.Sprintf(`{"type":"Feature","properties":{"highway":"primary","bridge":"no","name":%q},"geometry":{"type":"LineString","coordinates":[[%s]]}}`, name, strings.Join(places, "],[")))
	}
	file := filepath.Join(dir, "net.geojson")
	if err := os.WriteFile(file, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(roads, ",")+`]}`), 0o600); err != nil {
		t.Fatal(err)
	}
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(dir, "hills.gpkg")
	ctx := context.Background()
	job, err := survey.Begin(ctx, survey.Setup{Options: survey.Options{Classes: classes[:1], Units: catalog.Metric, Descent: descent.Options{}.WithDefaults()}, Terrain: []string{filepath.Join(dir, "dem.tif")}, Roads: []string{file}, Catalog: path, Tool: "test", By: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	defer job.Close()
	if err := job.Run(ctx); err != nil {
		t.Fatal(err)
	}
	return path, from, to
}

// Two clicks on the map give the ways that the route command gives, each with its driver's page;
// typed places do the same without scripts.
func TestWaysInBrowser(t *testing.T) {
	path, from, to := threeWays(t)
	o := officeOver(t, path)
	class := o.server.opt.Classes[0].ID
	b := o.enter(1280, 900)
	b.Loads(func() { b.Click("link", "Ways") })
	wait(t, b, "document.getElementById('map').dataset.ready==='1'")
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	b.Type("textbox", "From", from)
	b.Type("textbox", "To", to)
	b.Loads(func() { b.Key("Enter", 13) })
	wait(t, b, "document.getElementById('map').dataset.ready==='1'")
	if rows, lines := b.Text("document.querySelectorAll('#results tbody tr').length"), b.Text("document.querySelectorAll('#map path.way').length"); rows != "3" || lines != rows {
		t.Errorf("%s ways are listed, %s drawn", rows, lines)
	}
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	if *lookDir != "" {
		if err := os.WriteFile(filepath.Join(*lookDir, "ways-1280.png"), b.Picture(true), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	// Two clicks: the ends are where they were clicked, and the ways come by themselves.
	b.Visit(o.web.URL + "/ways")
	wait(t, b, "document.getElementById('map').dataset.ready==='1'")
	b.Move("document.getElementById('map')", 0.1, 0.5)
	clickHere(b, 0.1, 0.5)
	wait(t, b, "document.getElementById('map-words').textContent.includes('Now the end')")
	b.Loads(func() { clickHere(b, 0.9, 0.5) })
	wait(t, b, "document.querySelectorAll('#results tbody tr').length>0")
	asked := url.Values{"class": {class}, "from": {from}, "to": {to}}
	// The page has what the route command prints.
	body := o.page("/ways?" + asked.Encode())
	specimen.Says(t, "the ways", body, "Ways for "+class, "That is not a permission: read the signs.")
	for _, row := range asRouteAnswers(t, o, from, to) {
		for _, cell := range row {
			if !strings.Contains(body, ">"+fmt.Sprint(cell)+"<") {
				t.Errorf("the page lacks %v of the command's %v", cell, row)
			}
		}
	}
	asked.Set("place", "2")
	specimen.Says(t, "the driver's page", o.page("/ways/driver?"+asked.Encode()), "This is way 2 of 3")
	b.Visit(o.web.URL + "/ways/driver?" + asked.Encode())
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	asked.Set("as", "pdf")
	if body := o.page("/ways/driver?" + asked.Encode()); !strings.HasPrefix(body, "%PDF-") {
		t.Error("the driver's page is no PDF")
	}
	for what, change := range map[string][2]string{"no such way": {"place", "9"}, "no place": {"from", "here"}, "a mass without unit": {"mass", "36"}, "too heavy": {"mass", "90t"}, "no class": {"class", "nobody"}} {
		v := url.Values{"class": {class}, "from": {from}, "to": {to}, "place": {"1"}}
		v.Set(change[0], change[1])
		if status, _ := o.asked(o.client, http.MethodGet, "/ways/driver?"+v.Encode(), nil, nil); status != http.StatusBadRequest && status != http.StatusNotFound {
			t.Errorf("%s: %d", what, status)
		}
	}
	if len(o.told()) > 0 {
		t.Errorf("the server reports %v", o.told())
	}
}

// asRouteAnswers are the rows of the route command's table.
func asRouteAnswers(t *testing.T, o *office, from, to string) [][]any {
	t.Helper()
	class := o.server.opt.Classes[0]
	q := survey.TripQuery{Options: survey.Options{Classes: []vehicle.Class{class}, Descent: descent.Options{}.WithDefaults()}, Vehicle: survey.VehicleOf(&class, 0), Prefer: ranking.PreferTime, Alternatives: mostAlternatives}
	var places []orb.Point
	for _, text := range []string{from, to} {
		p, err := catalog.ParsePoint(text)
		if err != nil {
			t.Fatal(err)
		}
		places = append(places, p)
	}
	a, err := answer.FindTripsIn(t.Context(), o.server.cat, places, q)
	if err != nil || len(a.Trips) != 3 {
		t.Fatalf("%v, %v", a, err)
	}
	return answer.TripsTable(a, catalog.Metric).Rows
}

// clickHere clicks the map at a share of its box.
func clickHere(b *specimen.Browser, shareX, shareY float64) {
	var at struct{ X, Y float64 }
	b.Eval(fmt.Sprintf("(r=>({x:r.left+r.width*%g,y:r.top+r.height*%g}))(document.getElementById('map').getBoundingClientRect())", shareX, shareY), &at)
	for _, kind := range []string{"mousePressed", "mouseReleased"} {
		b.Call("Input.dispatchMouseEvent", map[string]any{"type": kind, "x": at.X, "y": at.Y, "button": "left", "clickCount": 1}, nil)
	}
}

// A catalogue without a network has no page of ways.
func TestNoWaysWithoutANetwork(t *testing.T) {
	o := newOffice(t)
	if status, body := o.asked(o.client, http.MethodGet, "/ways", nil, nil); status != http.StatusNotFound || !strings.Contains(body, "no road network") {
		t.Errorf("%d %.300s", status, body)
	}
	if strings.Contains(o.page("/"), `href="/ways"`) {
		t.Error("the page leads to ways that cannot be found")
	}
}
