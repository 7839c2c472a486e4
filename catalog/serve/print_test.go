package serve

import (
	"context"
	"encoding/base64"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// paperOf is the page that is open as a browser prints it: its text and its number of pages.
func paperOf(t *testing.T, b *specimen.Browser) (text string, pages int) {
	t.Helper()
	var out struct{ Data string }
	b.Call("Page.printToPDF", map[string]any{"printBackground": true, "preferCSSPageSize": true, "paperWidth": 8.5, "paperHeight": 11}, &out)
	pdf, err := base64.StdEncoding.DecodeString(out.Data)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "page.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	if *lookDir != "" {
		if err := os.WriteFile(filepath.Join(*lookDir, "printed.pdf"), pdf, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	text = specimen.Printed(t, "poppler-utils", "pdftotext", "-layout", path, "-")
	return strings.Join(strings.Fields(text), " "), strings.Count(text, "\f")
}

// Printing the page of a descent gives the driver's page of the chosen class, on one sheet; where no
// class is chosen, the print says that it is none.
func TestPrintGivesTheDriversPage(t *testing.T) {
	o := newOffice(t)
	b := o.enter(1280, 900)
	address := o.web.URL + "/descent/" + url.PathEscape(o.idOf("Harrow Hill Road"))
	b.Visit(address + "?class=us-5axle")
	text, pages := paperOf(t, b)
	b.Visit(address + "/driver?class=us-5axle&paper=letter")
	want, _ := paperOf(t, b)
	if found := violations(t, b); found != "" {
		t.Error(found)
	}
	if pages != 1 || text != want || !strings.Contains(text, "US five-axle") || strings.Contains(text, "Record the review") {
		t.Errorf("printed on %d pages: %.600s\nthe driver's page is %.600s", pages, text, want)
	}
	b.Visit(address)
	if text, _ := paperOf(t, b); !strings.Contains(text, "This is not a driver's page. Choose a class, then print.") {
		t.Errorf("printed without a class: %.600s", text)
	}
}

// A hill that continues in another road leads to that road's descents, and they lead back.
func TestNeighbours(t *testing.T) {
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	saveSpecimens(t, path)
	ctx := context.Background()
	c, err := store.Open(ctx, path, store.Options{Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	e := specimen.Entry(routes.Forward)
	e.Descent.GoesOn = []routes.GoesOn{{Route: "Harrow Hill Road", LengthM: 9100, DropM: 560, MeanDowngradePct: 6.1}, {Route: "Low Lane", LengthM: 8000, DropM: 450, MeanDowngradePct: 5.6}}
	if _, err := c.SaveRoute(ctx, store.RouteSurvey{Route: store.RouteRecord{ID: "Upper Road", Reliable: true}, Entries: []catalog.Entry{e}}, store.SaveOptions{By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	o := officeOver(t, path)
	below, above := o.idOf("Harrow Hill Road"), o.idOf("Upper Road")
	specimen.Says(t, "the upper hill", o.page("/descent/"+above+"?class=us-5axle"), "The hill continues in", `href="/?route=Harrow&#43;Hill&#43;Road"`, "is 9.1 km long, drops 560 m",
		`href="/descent/`+below+`?class=us-5axle"`, "holds: gear 6", "Low Lane", "no descent of that road alone")
	specimen.Says(t, "the lower hill", o.page("/descent/"+below), "Hills that continue in this road", `href="/descent/`+above+`"`)
}

// Drives that the catalogue keeps are in the table and in the profile of the hills that they cross.
func TestDrivesOnTheHill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	saveSpecimens(t, path)
	ctx := context.Background()
	c, err := store.Open(ctx, path, store.Options{Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	var passes []catalog.DrivePass
	for n, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		p := catalog.DrivePass{Number: int64(n + 1), Route: "Harrow Hill Road", Direction: dir, FromM: 2500, ToM: 2500 + 20*99}
		for i := range 100 {
			p.Fixes = append(p.Fixes, catalog.DriveFix{StationM: 2500 + 20*float64(i), LonDeg: -109.95 + float64(i)*1e-4, LatDeg: 44, HeightM: 1800 - float64(i+n), TimeS: float64(i), SpeedMPS: 20})
		}
		passes = append(passes, p)
	}
	passes[0].Label = "unit <7>"
	if _, _, err := c.AddDrives(ctx, passes, "Ada"); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	o := officeOver(t, path)
	body := o.page("/descent/" + o.idOf("Harrow Hill Road"))
	specimen.Says(t, "the hill", body, "Recorded drives", "unit &lt;7&gt;", "down the hill", "up the hill", `<td class="n">1.0 km</td><td class="n">3.0 km</td><td class="n">100</td>`)
	if n := strings.Count(body, `<path class="drive"`); n != 2 {
		t.Errorf("%d drives are drawn", n)
	}
	if strings.Contains(o.page("/descent/"+o.idOf("Cinder Gap")), "Recorded drives") {
		t.Error("another hill has the drives")
	}
}

// A hill whose drives contradict its grade is among those that need a review, with what they say; the
// list is read anew after the drives are forgotten.
func TestDrivesInTheQueue(t *testing.T) {
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	saveSpecimens(t, path)
	ctx := context.Background()
	c, err := store.Open(ctx, path, store.Options{Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	const says = "drives: 2 recorded drives pass over it and none agrees with the road"
	o := officeOver(t, path)
	if strings.Contains(o.page("/review"), "drives: ") {
		t.Fatal("without drives")
	}
	line, err := c.Profile(ctx, o.idOf("Harrow Hill Road"))
	if err != nil {
		t.Fatal(err)
	}
	var passes []catalog.DrivePass
	for n := range 2 { // both climb where the road falls
		p := catalog.DrivePass{Number: int64(n + 1), Route: "Harrow Hill Road", FromM: line.StationM(0), ToM: line.StationM(line.Count() - 1)}
		for i, at := range line.Points {
			p.Fixes = append(p.Fixes, catalog.DriveFix{StationM: line.StationM(i), LonDeg: at[0], LatDeg: at[1], HeightM: 3000 - line.ElevationM[i] + float64(n), TimeS: 5 * float64(i), SpeedMPS: 10})
		}
		passes = append(passes, p)
	}
	kept, _, err := c.AddDrives(ctx, passes, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	specimen.Says(t, "the queue", o.page("/review"), "drives", says)
	if _, err := c.ForgetDrives(ctx, []int64{kept[0].Number, kept[1].Number}, "Ada"); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(o.page("/review"), says) {
		t.Error("the forgotten drives are in the queue")
	}
}
