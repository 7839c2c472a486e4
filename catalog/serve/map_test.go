package serve

import (
	"bytes"
	"context"
	"encoding/json"
	"image/png"
	"math"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog/specimen"
	"gradeline/terrain"
)

// hills is an invented terrain with a void in it.
type hills struct{}

func (hills) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i, p := range points {
		out[i] = terrain.Sample{ElevationM: 1500 + 300*math.Sin(p.LonDeg*90)*math.Cos(p.LatDeg*70) + 90*math.Sin(p.LonDeg*310+p.LatDeg*200), CellM: 30}
		if p.LonDeg > -109.85 {
			out[i] = terrain.Sample{ElevationM: math.NaN(), Miss: terrain.Void}
		}
	}
	return nil
}

func (hills) Sources() []terrain.Raster { return []terrain.Raster{{Name: "hills", CellM: 30}} }
func (hills) Warnings() []string        { return nil }

// tileHolding is the tile of a place, by the definition of Web Mercator tiles: x grows
// eastward from 180° west, y southward with the logarithm of the tangent.
func tileHolding(lonDeg, latDeg float64, zoom int) tileAt {
	n := math.Exp2(float64(zoom))
	lat := latDeg * math.Pi / 180
	return tileAt{zoom, int((lonDeg + 180) / 360 * n), int((1 - math.Log(math.Tan(lat)+1/math.Cos(lat))/math.Pi) / 2 * n)}
}

func TestTiles(t *testing.T) {
	o := newOffice(t)
	at := tileHolding(-110, 44, 13)
	// A worked example of the OpenStreetMap wiki's page Slippy map tilenames, from memory:
	// 50.0 N, 10.0 E at zoom 10 is tile 540, 347.
	if got := tileHolding(10, 50, 10); got != (tileAt{10, 540, 347}) {
		t.Errorf("the tile of 50 N 10 E is %v", got)
	}
	if lon, lat := lonDeg(float64(at.x*tilePixels), 13), latDeg(float64(at.y*tilePixels), 13); lon > -110 || lon < -110.05 || lat < 44 || lat > 44.05 {
		t.Errorf("the tile's corner is at %v, %v", lon, lat)
	}
	address := func(at tileAt) string {
		return "/tiles/" + strings.Join([]string{itoa(at.zoom), itoa(at.x), itoa(at.y)}, "/") + ".png"
	}
	img, err := png.Decode(bytes.NewReader([]byte(o.page(address(at)))))
	if err != nil || img.Bounds().Dx() != tilePixels || img.Bounds().Dy() != tilePixels {
		t.Fatalf("the tile is %v, %v", img, err)
	}
	if _, _, _, a := img.At(100, 100).RGBA(); a == 0 {
		t.Error("the ground is clear")
	}
	void, err := png.Decode(bytes.NewReader([]byte(o.page(address(tileHolding(-109.5, 44, 13))))))
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, a := void.At(100, 100).RGBA(); a != 0 {
		t.Error("a void is drawn as ground")
	}
	for _, bad := range []string{"/tiles/1/0/0.png", "/tiles/13/9000/0.png", "/tiles/99/0/0.png", "/tiles/x/0/0.png", "/tiles/13/-1/0.png"} {
		if status, _ := o.asked(o.client, http.MethodGet, bad, nil, nil); status != http.StatusNotFound {
			t.Errorf("%s: %d", bad, status)
		}
	}
}

func itoa(n int) string {
	b, _ := json.Marshal(n) // a number: it cannot fail
	return string(b)
}

func TestTilesAreBounded(t *testing.T) {
	s := newTiles(hills{})
	for i := range mostTiles + 50 {
		s.keep(tileAt{15, i, 0}, []byte{1})
	}
	if len(s.made) != mostTiles || s.used.Len() != mostTiles || s.kept(tileAt{15, 0, 0}) != nil || s.kept(tileAt{15, mostTiles, 0}) == nil {
		t.Errorf("%d tiles are kept", len(s.made))
	}
}

func TestMapData(t *testing.T) {
	o := newOffice(t)
	var d mapData
	if err := json.Unmarshal([]byte(o.page("/map?class=us-5axle")), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Descents) != 3 || d.LeftOut != 0 || d.Bounds == nil || d.Descents[2].Code != "held" || d.Descents[0].Code != "unknown" || !d.Descents[0].Question {
		t.Errorf("the map draws %+v", d)
	}
	if len(d.Steep) != 2 || !strings.Contains(d.Steep[0].Words, "lower end: ") || len(d.Steep[0].Line) != 3 || len(d.Sites) != 1 || d.Sites[0].Name != "Mill Flat" {
		t.Errorf("the map has the steep parts %+v and the sites %+v", d.Steep, d.Sites)
	}
	first := d.Descents[2].Line[0]
	if math.Abs(first[0]-44.005) > 0.01 || math.Abs(first[1]+109.983) > 0.01 {
		t.Errorf("the line begins at %v", first)
	}
	path := filepath.Join(t.TempDir(), "many.gpkg")
	manyDescents(t, path, mostMapDescents+30)
	many := officeOver(t, path)
	body := many.page("/map")
	if err := json.Unmarshal([]byte(body), &d); err != nil || len(d.Descents) != mostMapDescents || d.LeftOut != 30 {
		t.Errorf("%d descents, %d left out, %v", len(d.Descents), d.LeftOut, err)
	}
	t.Logf("the map of %d descents takes %d bytes", len(d.Descents), len(body))
}

// The map shows the list, a click on a sign tells the answer, and moving it moves the
// list and the address; a name with a script stays text.
func TestMapInBrowser(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1500, 900)
	b.Visit(o.web.URL + "/?class=us-5axle")
	wait(t, b, "document.getElementById('map').dataset.ready==='1'")
	if n := b.Text("document.querySelectorAll('.leaflet-marker-icon').length"); n != "4" {
		t.Errorf("the map has %s signs", n)
	}
	// Steep parts outside descents, and the edges of a line that is in question.
	if n := b.Text("document.querySelectorAll('#map path.steep-part').length+' '+document.querySelectorAll('#map path.in-question').length"); n != "2 1" {
		t.Errorf("the map has %s steep parts and lines in question", n)
	}
	names := b.Text("[...document.querySelectorAll('.leaflet-tooltip.name')].map(e=>e.style.visibility+e.textContent).join('|')")
	if !strings.Contains(names, "|Harrow Hill Road") || !strings.Contains(names, "Mill Flat") {
		t.Errorf("the map names %s", names)
	}
	b.Eval("document.querySelectorAll('#map path.steep-part')[0].dispatchEvent(new MouseEvent('click',{bubbles:true}))", nil)
	wait(t, b, "document.querySelector('.leaflet-popup-content')&&document.querySelector('.leaflet-popup-content').innerText.includes('lower end: ')")
	b.Eval("[...document.querySelectorAll('.leaflet-marker-icon')].find(m=>m.title.includes('script')).click()", nil)
	wait(t, b, "document.querySelector('.leaflet-popup-content a')")
	if said := b.Text("document.querySelector('.leaflet-popup-content').innerText"); !strings.Contains(said, "<script>alert(1)</script>") || !strings.Contains(said, "unknown") || !strings.Contains(said, "IN QUESTION") {
		t.Errorf("the sign says %q", said)
	}
	if *lookDir != "" {
		time.Sleep(2 * time.Second) // for the tiles
		if err := os.WriteFile(filepath.Join(*lookDir, "map-1500.png"), b.Picture(false), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	b.Focus("application", "Map of the descents; the list has the same")
	for range 30 { // the map takes no key while it still moves
		b.Key("+", 187)
		time.Sleep(300 * time.Millisecond)
		if b.Text("document.querySelectorAll('#results tbody tr').length<3") == "true" {
			break
		}
	}
	wait(t, b, "location.search.includes('box=')")
	box := b.Text("new URLSearchParams(location.search).get('box')")
	if _, err := parseQuery(url.Values{"box": {box}}); err != nil {
		t.Errorf("the address has the box %q: %v", box, err)
	}
	wait(t, b, "document.querySelectorAll('#results tbody tr').length<3")
	link := b.Text("location.pathname+location.search")
	b.Visit(o.web.URL + link)
	if rows := b.Text("document.querySelectorAll('#results tbody tr').length"); rows == "3" {
		t.Error("the mailed link shows another list")
	}
}

// wait waits until an expression is true on the page.
func wait(t *testing.T, b *specimen.Browser, expr string) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); b.Text("!!("+expr+")") != "true"; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("never: %s; %.1000s", expr, b.Text("document.body.innerText"))
		}
	}
}
