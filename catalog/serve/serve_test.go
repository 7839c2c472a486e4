package serve

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
)

func TestOnlyWithTheToken(t *testing.T) {
	o := newOffice(t)
	stranger := &http.Client{}
	for _, address := range []string{"/", "/descent/x", "/files/hills.csv", "/review", "/?token=other"} {
		status, body := o.asked(stranger, http.MethodGet, address, nil, nil)
		if status != http.StatusUnauthorized || strings.Contains(body, "Harrow") {
			t.Errorf("%s without a token: %d %.300s", address, status, body)
		}
	}
	stranger.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	w, err := stranger.Get(o.web.URL + "/?token=sesame&class=us-5axle")
	if err != nil {
		t.Fatal(err)
	}
	w.Body.Close()
	if to := w.Header.Get("Location"); w.StatusCode != http.StatusSeeOther || to != "/?class=us-5axle" {
		t.Errorf("the token leads to %d %q", w.StatusCode, to)
	}
	c := w.Cookies()
	if len(c) != 1 || !c[0].HttpOnly || c[0].SameSite != http.SameSiteLaxMode || strings.Contains(c[0].Value, "sesame") {
		t.Errorf("cookies %v", c)
	}
}

func TestOtherHostsAndOtherSitesAreRefused(t *testing.T) {
	o := newOffice(t)
	for _, host := range []string{"evil.example", "127.0.0.1", "localhost:1"} {
		status, body := o.asked(o.client, http.MethodGet, "/", nil, func(r *http.Request) { r.Host = host })
		if status != http.StatusMisdirectedRequest || strings.Contains(body, "Harrow") {
			t.Errorf("host %q: %d", host, status)
		}
	}
	for _, header := range []map[string]string{{"Sec-Fetch-Site": "cross-site"}, {"Origin": "http://evil.example"}} {
		status, _ := o.asked(o.client, http.MethodPost, "/units", url.Values{"units": {"us"}}, func(r *http.Request) {
			for k, v := range header {
				r.Header.Set(k, v)
			}
		})
		if status != http.StatusForbidden {
			t.Errorf("a form from another site (%v): %d", header, status)
		}
	}
	if status, _ := o.asked(o.client, http.MethodPost, "/units", url.Values{"units": {"us"}, "back": {"//evil.example/x"}}, func(r *http.Request) { r.Header.Set("Origin", o.web.URL) }); status != http.StatusNotFound {
		t.Errorf("the form leads out of the server: %d", status)
	}
}

func TestHeadersOfEveryPage(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	for _, address := range []string{"/", "/descent/" + id, "/descent/" + id + "/driver?class=us-5axle", "/descent/nothing", "/nowhere", "/static/page.css"} {
		w, err := o.client.Get(o.web.URL + address)
		if err != nil {
			t.Fatal(err)
		}
		w.Body.Close()
		p := w.Header.Get("Content-Security-Policy")
		framedBy := "frame-ancestors 'none'"
		if strings.Contains(address, "/driver") { // the page of the descent prints it
			framedBy = "frame-ancestors 'self'"
		}
		if !strings.Contains(p, "default-src") || strings.Contains(p, "unsafe-eval") || strings.Contains(p, "script-src 'unsafe-inline'") || !strings.Contains(p, framedBy) || w.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %v", address, w.Header)
		}
	}
}

func TestListSaysWhatIsNotKnown(t *testing.T) {
	o := newOffice(t)
	body := o.page("/?class=us-5axle")
	specimen.Says(t, "the list", body, "Harrow Hill Road", "holds: gear 6", "unknown: the profile under it is unreliable and not field-checked", "not reviewed", "Cinder Gap", "the line lies beside its road", "unreliable, borderline")
	specimen.Says(t, "the list", body, escaped(append(catalog.Cautions(), wording.InventedBanner))...)
	specimen.Says(t, "the list of a heavier class", o.page("/?class=bc-btrain"), ">NOT HELD<")
	specimen.Says(t, "the list of all", o.page("/"), "NOT HELD by 1 of 2 classes")
	specimen.Says(t, "an empty list", o.page("/?class=us-5axle&steeper=30%25"), "This is not an all-clear")
	for _, bad := range []string{"/?class=nobody", "/?route=nowhere"} {
		if status, _ := o.asked(o.client, http.MethodGet, bad, nil, nil); status != http.StatusNotFound {
			t.Errorf("%s: %d, an empty list would read as an all-clear", bad, status)
		}
	}
	for _, bad := range []string{"/?longer=2", "/?steeper=x", "/?direction=up", "/?answer=maybe", "/?page=0", "/?state=x", "/?box=1,2,3", "/?text=" + strings.Repeat("x", 300)} {
		if status, _ := o.asked(o.client, http.MethodGet, bad, nil, nil); status != http.StatusBadRequest {
			t.Errorf("%s: %d: a filter is dropped in silence", bad, status)
		}
	}
}

func escaped(texts []string) []string {
	var out []string
	for _, s := range texts {
		out = append(out, strings.ReplaceAll(s, "'", "&#39;"))
	}
	return out
}

func TestFilters(t *testing.T) {
	o := newOffice(t)
	rows := regexp.MustCompile(`<tr><th scope="row">`)
	for address, want := range map[string]int{"/": 3, "/?text=cinder": 1, "/?longer=2km": 2, "/?longer=1mi&steeper=5%25": 2, "/?answer=not": 3, "/?class=us-5axle&answer=held": 1,
		"/?class=us-5axle&answer=unknown": 2, "/?class=us-5axle&answer=held&answer=unknown": 3, "/?box=-110.1,44.015,-109,44.1": 1, "/?direction=forward": 3, "/?direction=backward": 0, "/?state=approved": 1} {
		if n := len(rows.FindAllString(o.page(address), -1)); n != want {
			t.Errorf("%s lists %d descents, want %d", address, n, want)
		}
	}
}

// A name with a script, a formula and marks that turn the writing is text everywhere.
func TestNamesWithScripts(t *testing.T) {
	o := newOffice(t)
	id := o.idOf(specimen.HostileName)
	for _, address := range []string{"/", "/review", "/descent/" + url.PathEscape(id), "/descent/" + url.PathEscape(id) + "/driver?class=bc-btrain", "/files/report.html", "/descent/" + url.PathEscape("<script>alert(1)</script>"), "/?text=" + url.QueryEscape(`"><script>alert(1)</script>`), "/?class=" + url.QueryEscape(`<script>alert(1)</script>`)} {
		_, body := o.asked(o.client, http.MethodGet, address, nil, nil)
		if strings.Contains(body, "<script>alert") || strings.ContainsAny(body, "\u202e\u0007") {
			t.Errorf("%s holds the name as it is", address)
		}
	}
}

func TestDescentSaysAll(t *testing.T) {
	o := newOffice(t)
	body := o.page("/descent/" + o.idOf("Harrow Hill Road"))
	specimen.Says(t, "the descent", body, escaped(append(catalog.Cautions(), wording.InventedBanner, "not field-checked", "NOT HELD", "holds: gear 6", "In gear 7 the retarder is past its reserve", "harrow.tif", "Ada", "Heaviest that holds", "41.2 t"))...)
	if len(body) > 300e3 {
		t.Errorf("the page weighs %d bytes", len(body))
	}
	if status, _ := o.asked(o.client, http.MethodGet, "/descent/none", nil, nil); status != http.StatusNotFound {
		t.Errorf("a descent that is not there: %d", status)
	}
	if status, _ := o.asked(o.client, http.MethodGet, "/descent/"+o.idOf("Harrow Hill Road")+"?class=none", nil, nil); status != http.StatusNotFound {
		t.Errorf("a class that has no answer: %d", status)
	}
	unreliable := o.page("/descent/" + o.idOf("Cinder Gap") + "?class=us-5axle")
	specimen.Says(t, "the unreliable one", unreliable, "unknown: the profile under it is unreliable", "Unreliable: the grade line may not follow the road")
	if strings.Contains(unreliable, "holds: gear") {
		t.Error("an unreliable hill is shown as held")
	}
}

func TestFilesHoldWhatTheListShows(t *testing.T) {
	o := newOffice(t)
	if body := o.page("/files/hills.csv?text=cinder"); !strings.Contains(body, "Cinder Gap") || strings.Contains(body, "Harrow") {
		t.Errorf("the table: %.500s", body)
	}
	var lines struct{ Features []json.RawMessage }
	if err := json.Unmarshal([]byte(o.page("/files/hills.geojson?longer=2km")), &lines); err != nil || len(lines.Features) != 2 {
		t.Errorf("%d lines, %v", len(lines.Features), err)
	}
	book := o.page("/files/hills.xlsx")
	if _, err := zip.NewReader(bytes.NewReader([]byte(book)), int64(len(book))); err != nil {
		t.Error(err)
	}
	specimen.Says(t, "the text", o.page("/files/hills.txt"), "Harrow Hill Road", "Cinder Gap")
	specimen.Says(t, "the report", o.page("/files/report.html?text=harrow"), "Harrow Hill Road", "Content-Security-Policy")
	part := filepath.Join(t.TempDir(), "part.gpkg")
	if err := os.WriteFile(part, []byte(o.page("/files/hills.gpkg?text=cinder")), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := store.Open(context.Background(), part, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	es, err := c.Descents(context.Background(), store.Filter{})
	if err != nil || len(es) != 1 || es[0].Descent.Route != "Cinder Gap" {
		t.Errorf("the catalogue taken along: %d descents, %v", len(es), err)
	}
	if !strings.HasPrefix(o.page("/descent/"+o.idOf("Harrow Hill Road")+"/driver?class=us-5axle&as=pdf"), "%PDF-") {
		t.Error("the driver's page is no PDF")
	}
	pages := o.page("/files/driver-pages.zip?class=us-5axle")
	z, err := zip.NewReader(bytes.NewReader([]byte(pages)), int64(len(pages)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
	}
	// The hostile one has no answer for this class: it is named as missing.
	if len(names) != 3 || !slices.Contains(names, "MISSING.txt") || !slices.Contains(names, o.idOf("Harrow Hill Road")+"-us-5axle.pdf") {
		t.Errorf("the driver's pages are %v", names)
	}
	if status, _ := o.asked(o.client, http.MethodGet, "/files/driver-pages.zip", nil, nil); status != http.StatusBadRequest {
		t.Errorf("driver's pages of no class: %d", status)
	}
	if status, _ := o.asked(o.client, http.MethodGet, "/files/../hills.gpkg", nil, nil); status != http.StatusNotFound {
		t.Errorf("a path in a request: %d", status)
	}
}

// The list follows the file when another program changes it.
func TestListFollowsTheFile(t *testing.T) {
	o := newOffice(t)
	id := o.idOf("Harrow Hill Road")
	o.page("/")
	c, err := store.Open(context.Background(), o.path, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := c.Review(context.Background(), id, catalog.Review{State: catalog.Retired, By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		body := o.page("/")
		if !strings.Contains(body, "Harrow Hill Road</bdi>") {
			break
		}
		if !strings.Contains(body, "Another program is changing the catalogue") {
			t.Fatal("an old list is shown without its mark")
		}
		if time.Now().After(end) {
			t.Fatal("the list keeps a descent that is retired")
		}
	}
}

func TestServeEndsCleanly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	saveSpecimens(t, path)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(context.Background(), Options{Hosts: HostsOf(l.Addr()), Open: func(ctx context.Context, forChange bool) (*store.Catalog, error) {
		return store.Open(ctx, path, store.Options{ReadOnly: !forChange})
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Token()) < 20 {
		t.Errorf("the token %q can be guessed", s.Token())
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	w, err := http.Get("http://" + l.Addr().String() + "/?token=" + s.Token())
	if err != nil {
		t.Fatal(err)
	}
	w.Body.Close()
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if _, err := net.Dial("tcp", l.Addr().String()); err == nil {
		t.Error("it still listens")
	}
}

func TestPagesOfAList(t *testing.T) {
	path := filepath.Join(t.TempDir(), "many.gpkg")
	manyDescents(t, path, 250)
	o := officeOver(t, path)
	first, last := o.page("/?class=us-5axle"), o.page("/?class=us-5axle&page=3")
	specimen.Says(t, "the first page", first, "1 to 100 of 250 descents", "Next page", `href="/?class=us-5axle&amp;page=2"`)
	specimen.Says(t, "the last page", last, "201 to 250 of 250 descents", "Previous page")
	if strings.Contains(last, "Next page") || len(first) > 300e3 {
		t.Errorf("the last page goes on, or the first weighs %d bytes", len(first))
	}
	if status, _ := o.asked(o.client, http.MethodGet, "/?page=900", nil, nil); status != http.StatusOK {
		t.Error("a page beyond the last one fails")
	}
}
