package serve

import (
	"archive/zip"
	"context"
	"fmt"
	"io"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

var partRows = regexp.MustCompile(`<tr class="part"><th scope="row"><bdi>([^<]*)`)

// Without scripts the list of steep parts stands under the descents, by role and text.
func TestSteepPartsOnThePage(t *testing.T) {
	o := newOffice(t)
	b := o.enter(360, 900)
	b.Call("Emulation.setScriptExecutionDisabled", map[string]any{"value": true}, nil)
	for width, address := range map[int]string{360: "/?class=us-5axle", 1280: "/"} {
		b.Resize(width, 900)
		b.Visit(o.web.URL + address)
		for _, want := range [][2]string{{"heading", "Steep parts outside descents"}, {"region", "Steep parts outside descents"}, {"region", "Table of steep parts outside descents"}, {"rowheader", "Harrow Hill Road, lower end"}} {
			if _, found := b.Find(want[0], want[1]); !found {
				t.Errorf("%s at %d px has no %s %q", address, width, want[0], want[1])
			}
		}
	}
	body := o.page("/")
	specimen.Says(t, "the list", body, "2 chosen, steepest first; the catalogue has 2.", ">9000 m<", ">9430 m<", ">0.4 km<", ">7.0 ± 0.6 %<", "borderline", escaped([]string{wording.AboutSteepParts})[0],
		"240 m of other road may be steep parts", "Not known for Cinder Gap: surveyed before steep parts were kept; survey them again.")
	rows := partRows.FindAllStringSubmatch(body, -1)
	if len(rows) != 2 || !strings.HasPrefix(rows[1][1], "Harrow Hill Road") || !strings.Contains(rows[0][1], "script") {
		t.Errorf("the steepest is not first: %q", rows)
	}
	if units, us := o.asked(o.client, "POST", "/units", url.Values{"units": {"us"}, "back": {"/"}}, nil); units != 200 || !strings.Contains(us, ">0.3 mi<") {
		t.Error("in US units the length is not in miles")
	}
}

func TestSteepPartsAreFilteredLikeTheList(t *testing.T) {
	o := newOffice(t)
	for address, want := range map[string]int{"/": 2, "/?class=bc-btrain": 2, "/?route=Harrow+Hill+Road": 1, "/?route=" + url.QueryEscape(wording.Plain(specimen.HostileName)): 1, "/?route=Cinder+Gap": 0,
		"/?text=HARROW": 1, "/?steeper=8%25": 1, "/?longer=429m": 2, "/?longer=431m": 0, "/?direction=forward": 2, "/?direction=backward": 0,
		"/?answer=not": 0, "/?state=approved": 0, "/?question=1": 0, "/?box=-180,-90,180,90": 2, "/?box=0,0,1,1": 0} {
		body := o.page(address)
		if n := len(partRows.FindAllString(body, -1)); n != want {
			t.Errorf("%s lists %d steep parts, want %d", address, n, want)
		}
		specimen.Says(t, address, body, "Steep parts outside descents", "catalogue")
		switch {
		case strings.Contains(address, "answer") || strings.Contains(address, "state") || strings.Contains(address, "question"):
			specimen.Says(t, address, body, "they have no answer and no review to choose by")
		case want == 0:
			specimen.Says(t, address, body, "None of the catalogue&#39;s 2 is chosen. This is not an all-clear")
		}
	}
	if body := o.page("/?route=Harrow+Hill+Road"); strings.Contains(body, "Not known for") || !strings.Contains(body, "120 m of other road") {
		t.Error("a known road is listed with the limits of others")
	}
	if body := o.page("/?route=Cinder+Gap"); !strings.Contains(body, "Not known for Cinder Gap") || strings.Contains(body, "of other road") {
		t.Error("the unknown road is not named alone")
	}
	id := o.idOf("Harrow Hill Road")
	if status, _ := o.send(id, o.version(id), url.Values{"state": {"field-checked"}, "by": {"Ada"}, "note": {"driven"}}); status != 200 {
		t.Fatal(status)
	}
	if n := len(partRows.FindAllString(o.page("/"), -1)); n != 2 {
		t.Errorf("after a review the page lists %d steep parts", n)
	}
}

// Of very many steep parts the page lists the steepest; a road without a descent counts too.
func TestManySteepParts(t *testing.T) {
	path, ctx := filepath.Join(t.TempDir(), "hills.gpkg"), context.Background()
	c, err := store.Open(ctx, path, store.Options{Create: true, Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	possibleM, e := 0.0, specimen.Entry(routes.Forward)
	rs := store.RouteSurvey{Route: store.RouteRecord{ID: "Long Road", Name: "Long Road", LengthM: 10000, Reliable: true}, PossibleSteepM: &possibleM}
	for i := range rowsPerPage + 3 {
		rs.SteepParts = append(rs.SteepParts, steepPart("Long Road", e, 6+float64(i)/10))
	}
	if _, err := c.SaveRoute(ctx, rs, store.SaveOptions{By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	body := officeOver(t, path).page("/")
	if n := len(partRows.FindAllString(body, -1)); n != rowsPerPage {
		t.Errorf("%d rows", n)
	}
	specimen.Says(t, "the list", body, fmt.Sprintf("The %d steepest of %d chosen; the catalogue has %d.", rowsPerPage, rowsPerPage+3, rowsPerPage+3), wording.InventedBanner)
	if !strings.Contains(body, ">"+catalog.GradeWithBound(6.3, 0.6)) {
		t.Error("the least steep of the listed ones is missing")
	}
	if strings.Contains(body, "Not known for") || strings.Contains(body, ">"+catalog.GradeWithBound(6.2, 0.6)) {
		t.Error("the least steep ones are listed, or a known road is unknown")
	}
}

// The files of a list have the steep parts that the list has.
func TestFilesHaveTheSteepPartsOfTheList(t *testing.T) {
	o := newOffice(t)
	for query, want := range map[string]int{"": 2, "?text=harrow": 1, "?longer=431m": 0, "?answer=not": 0} {
		if n := strings.Count(o.page("/files/hills.geojson"+query), `"kind":"steep part"`); n != want {
			t.Errorf("the lines of %q have %d steep parts, want %d", query, n, want)
		}
		if n := strings.Count(workbookText(t, o.page("/files/hills.xlsx"+query)), ", lower end"); n != want {
			t.Errorf("the workbook of %q has %d steep parts, want %d", query, n, want)
		}
		if n := strings.Count(o.page("/files/report.html"+query), ", lower end</bdi>"); n != want {
			t.Errorf("the report of %q has %d steep parts, want %d", query, n, want)
		}
		for _, name := range []string{"hills.csv", "hills.txt"} {
			body := strings.Join(strings.Fields(o.page("/files/"+name+query)), " ") // the text is wrapped
			if has := strings.Contains(body, fmt.Sprintf("%d steep part", want)); has != (want > 0) || !strings.Contains(body, "Not known for Cinder Gap") {
				t.Errorf("%s%s mentions %d steep parts: %v", name, query, want, has)
			}
		}
	}
}

// workbookText is the text of all sheets of a workbook.
func workbookText(t *testing.T, book string) string {
	t.Helper()
	z, err := zip.NewReader(strings.NewReader(book), int64(len(book)))
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&out, r); err != nil {
			t.Fatal(err)
		}
		r.Close()
	}
	return out.String()
}
