package serve

import (
	"context"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/routes"
)

var versionField = regexp.MustCompile(`name="version" value="(\d+)"`)

// send sends the form of a descent, with the version that the visitor saw.
func (o *office) send(id, version string, form url.Values) (int, string) {
	form.Set("version", version)
	return o.asked(o.client, http.MethodPost, "/descent/"+id+"/review", form, nil)
}

func (o *office) version(id string) string {
	o.t.Helper()
	m := versionField.FindStringSubmatch(o.page("/descent/" + id))
	if m == nil {
		o.t.Fatal("the form has no version")
	}
	return m[1]
}

func TestReviewIsRecordedByName(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	o.page("/") // the list is in memory
	status, body := o.send(id, o.version(id), url.Values{"state": {"field-checked"}, "by": {"Bo <b>Ek</b>"}, "measured": {"6.3"}, "note": {"driven twice"}, "photo": {"IMG_1"}})
	if status != http.StatusOK {
		t.Fatalf("%d %.1500s", status, body)
	}
	specimen.Says(t, "the page after it", body, "Review: field-checked by Bo &lt;b&gt;Ek&lt;/b&gt;", "6.3 %", "driven twice", "IMG_1", `value="Bo &lt;b&gt;Ek&lt;/b&gt;"`)
	e, err := o.server.cat.Descent(context.Background(), id)
	if err != nil || e.Review.State != catalog.FieldChecked || e.Review.By != "Bo <b>Ek</b>" || e.Review.MeasuredGradePct == nil || *e.Review.MeasuredGradePct != 6.3 {
		t.Errorf("the catalogue has %+v, %v", e.Review, err)
	}
	if now := o.server.list.now.Load(); now.rows[now.byID[id]].state != "field-checked" {
		t.Error("the list in memory was not brought up to date")
	}
	if list := o.page("/?state=field-checked"); !strings.Contains(list, "Harrow Hill Road</bdi>") {
		t.Error("the list does not show the review at once")
	}
}

// The second of two people is told what the first did, and has what they typed.
func TestSecondReviewerLosesNothing(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	seen := o.version(id)
	if status, _ := o.send(id, seen, url.Values{"state": {"field-checked"}, "by": {"Ada"}, "note": {"first"}}); status != http.StatusOK {
		t.Fatal(status)
	}
	status, body := o.send(id, seen, url.Values{"state": {"approved"}, "by": {"Bo"}, "note": {"second </textarea><script>x</script>"}, "measured": {"5.9"}, "photo": {"IMG_2"}})
	if status != http.StatusConflict {
		t.Fatalf("the second: %d", status)
	}
	specimen.Says(t, "the second's page", body, "Somebody else changed this descent", "review by <bdi>Ada</bdi>: <bdi>field-checked; first", `<option value="approved" selected>`, "second &lt;/textarea&gt;&lt;script&gt;", `value="5.9"`, `value="IMG_2"`, `value="Bo"`)
	e, err := o.server.cat.Descent(context.Background(), id)
	if err != nil || e.Review.State != catalog.FieldChecked || e.Review.Note != "first" {
		t.Errorf("the first's review is now %+v, %v", e.Review, err)
	}
	again := versionField.FindStringSubmatch(body)[1]
	if status, _ := o.send(id, again, url.Values{"state": {"approved"}, "by": {"Bo"}, "note": {"second"}}); status != http.StatusOK {
		t.Errorf("sent again after looking: %d", status)
	}
}

func TestFormsThatCannotBeKept(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	version := o.version(id)
	for what, form := range map[string]url.Values{
		"no name":               {"state": {"approved"}, "note": {"kept in the form"}},
		"no decision":           {"by": {"Bo"}, "note": {"kept in the form"}},
		"a state that is none":  {"by": {"Bo"}, "state": {"lost"}, "note": {"kept in the form"}},
		"a grade that is none":  {"by": {"Bo"}, "state": {"approved"}, "measured": {"steep"}, "note": {"kept in the form"}},
		"a grade of a wall":     {"by": {"Bo"}, "state": {"approved"}, "measured": {"400"}, "note": {"kept in the form"}},
		"a name without an end": {"by": {strings.Repeat("x", 1000)}, "state": {"approved"}, "note": {"kept in the form"}},
	} {
		status, body := o.send(id, version, form)
		if status != http.StatusBadRequest || !strings.Contains(body, "Not kept") || !strings.Contains(body, "kept in the form</textarea>") {
			t.Errorf("%s: %d", what, status)
		}
	}
	if status, _ := o.send(id, "x", url.Values{"by": {"Bo"}, "state": {"approved"}}); status != http.StatusBadRequest {
		t.Errorf("a form without a version: %d", status)
	}
	if status, _ := o.send(id, version, url.Values{"by": {"Bo"}, "state": {"approved"}, "note": {strings.Repeat("x", 100_000)}}); status != http.StatusRequestEntityTooLarge {
		t.Errorf("a form without an end: %d", status)
	}
	if h, err := o.server.cat.History(context.Background(), id); err != nil || len(h) != 1 {
		t.Errorf("something was kept: %+v, %v", h, err)
	}
}

// A newer survey of a reviewed descent is shown beside it, taken as the harder one, and
// accepted with the approval in one change.
func TestNewerSurveyIsDecidedOn(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	if status, _ := o.send(id, o.version(id), url.Values{"state": {"approved"}, "by": {"Ada"}}); status != http.StatusOK {
		t.Fatal(status)
	}
	c, err := store.Open(context.Background(), o.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	harder := specimen.Entry(routes.Forward)
	harder.Descent.MeanDowngradePct, harder.Descent.DropM = 8.4, 546
	harder.Holds[0] = catalog.Hold{Class: "us-5axle", MassKg: harder.Holds[0].MassKg, LimitedBy: catalog.LimitNothing, MissingPowerW: 30000}
	if _, err := c.SaveRoute(context.Background(), store.RouteSurvey{Route: store.RouteRecord{ID: "Harrow Hill Road", Name: "Harrow Hill Road", LengthM: 10000, Reliable: true}, Entries: []catalog.Entry{harder}, Profile: specimen.Profile()}, store.SaveOptions{By: "Cy"}); err != nil {
		t.Fatal(err)
	}
	body := o.page("/descent/" + id)
	specimen.Says(t, "the page", body, "IN QUESTION", "A NEWER SURVEY FOUND THIS HILL HARDER", "the figures, the profile and the places are by the older one", "From a newer survey that waits for a decision", "A newer survey waits", "8.4 ± 0.2 %")
	if strings.Contains(body, `<p class="answer held">`) {
		t.Error("the page shows the easier answer")
	}
	specimen.Says(t, "the queue", o.page("/review"), "Harrow Hill Road", "moved")
	status, body := o.send(id, o.version(id), url.Values{"decision": {"accept"}, "state": {"approved"}, "by": {"Bo"}})
	if status != http.StatusOK || strings.Contains(body, "A newer survey waits") || strings.Contains(body, "IN QUESTION") {
		t.Fatalf("after accepting: %d", status)
	}
	specimen.Says(t, "the page after it", body, "Review: approved by Bo", "accepted", "8.4 ± 0.2 %")
}

// A review leaves the lists without its descent as they were made, and no list with an old state.
func TestReviewRenewsItsListsOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "many.gpkg")
	manyDescents(t, path, 2*rowsPerPage)
	o := officeOver(t, path)
	for _, address := range []string{"/", "/?page=2", "/?state=approved", "/?question=1"} {
		o.page(address)
	}
	const id = "road-00000-f-1.5" // of the smallest drop: on the second page
	if status, _ := o.send(id, o.version(id), url.Values{"state": {"approved"}, "by": {"Ada"}}); status != http.StatusOK {
		t.Fatal(status)
	}
	now, isOld, err := o.server.list.current(t.Context())
	if err != nil || isOld {
		t.Fatal(isOld, err)
	}
	kept := 0
	for key := range now.pages {
		if !strings.HasSuffix(key, "\x00/") {
			t.Errorf("kept after the review: %q", key)
		}
		kept++
	}
	if kept != 1 {
		t.Errorf("%d lists are kept", kept)
	}
	if n := strings.Count(o.page("/?page=2"), ">approved<"); n < 1 {
		t.Error("the second page has the state before the review")
	}
	specimen.Says(t, "the approved ones", o.page("/?state=approved"), "1 to 1 of 1 descents")
}
