package serve

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/terrain"
)

// office is a server over a catalogue of its own, and a visitor of it.
type office struct {
	t      testing.TB
	server *Server
	path   string // of the catalogue
	web    *httptest.Server
	client *http.Client
	mu     sync.Mutex
	faults []error // guarded by mu
}

// newOffice serves the specimens: one held, one unreliable, one with a hostile name.
func newOffice(t *testing.T) *office {
	t.Helper()
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	saveSpecimens(t, path)
	return officeOver(t, path)
}

func saveSpecimens(t testing.TB, path string) {
	t.Helper()
	ctx := context.Background()
	c, err := store.Open(ctx, path, store.Options{Create: true, Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	defer func() {
		site := catalog.Site{Kind: catalog.BrakeCheck, Name: "Mill Flat", Point: terrain.Point{LonDeg: -109.95, LatDeg: 44.008}}
		if _, err := c.AddSites(ctx, []catalog.Site{site}, "Ada"); err != nil {
			t.Fatal(err)
		}
	}()
	for i, e := range specimen.Entries() {
		name := []string{"Harrow Hill Road", "Cinder Gap", specimen.HostileName}[i]
		rs := store.RouteSurvey{Route: store.RouteRecord{ID: name, Name: name, LengthM: 10000, Reliable: i != 1, Unreliable: map[bool]string{true: "the line lies beside its road"}[i == 1]}, Entries: []catalog.Entry{e}, Profile: specimen.Profile()}
		if i != 1 { // the road of Cinder Gap is from before steep parts were kept
			possibleM := 120.0
			rs.SteepParts, rs.PossibleSteepM = []catalog.SteepPart{steepPart(name, e, 7+float64(i))}, &possibleM
		}
		if _, err := c.SaveRoute(ctx, rs, store.SaveOptions{By: "Ada"}); err != nil {
			t.Fatal(err)
		}
	}
}

// steepPart is an invented steep part on the lower end of a road, with the place of an entry's foot.
func steepPart(road string, e catalog.Entry, meanPct float64) catalog.SteepPart {
	return catalog.SteepPart{Route: road, Name: road + ", lower end", Line: e.Line[len(e.Line)-3:], Provenance: e.Provenance,
		SteepPart: routes.SteepPart{Direction: routes.Forward, StartM: 9000, EndM: 9430, LengthM: 430, MeanDowngradePct: meanPct, MeanDowngradeErrPct: 0.6, Flags: []string{routes.FlagBorderline}}}
}

func officeOver(t testing.TB, path string) *office {
	t.Helper()
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	o := &office{t: t, path: path}
	o.web = httptest.NewUnstartedServer(nil)
	o.server, err = New(context.Background(), Options{
		Open: func(ctx context.Context, forChange bool) (*store.Catalog, error) {
			return store.Open(ctx, path, store.Options{ReadOnly: !forChange, Tool: "test"})
		},
		Classes: classes, Terrain: hills{}, Hosts: HostsOf(o.web.Listener.Addr()), Token: "sesame",
		Now: func() time.Time { return time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC) },
		Failed: func(err error) {
			o.mu.Lock()
			defer o.mu.Unlock()
			o.faults = append(o.faults, err)
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	o.web.Config.Handler = o.server.Handler()
	o.web.Start()
	t.Cleanup(func() {
		o.web.Close()
		if err := o.server.Close(); err != nil {
			t.Error(err)
		}
	})
	o.client = o.visitor()
	return o
}

// told are the faults that the server reported.
func (o *office) told() []error {
	o.mu.Lock()
	defer o.mu.Unlock()
	return append([]error{}, o.faults...)
}

// visitor is somebody who opened the printed address.
func (o *office) visitor() *http.Client {
	o.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		o.t.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	if status, body := o.asked(c, http.MethodGet, "/?token=sesame", nil, nil); status != http.StatusOK {
		o.t.Fatalf("the printed address: %d %s", status, body)
	}
	return c
}

// asked sends one request and reads the answer.
func (o *office) asked(c *http.Client, method, address string, form url.Values, change func(*http.Request)) (int, string) {
	o.t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r, err := http.NewRequest(method, o.web.URL+address, body)
	if err != nil {
		o.t.Fatal(err)
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if change != nil {
		change(r)
	}
	w, err := c.Do(r)
	if err != nil {
		o.t.Fatal(err)
	}
	defer w.Body.Close()
	b, err := io.ReadAll(w.Body)
	if err != nil {
		o.t.Fatal(err)
	}
	return w.StatusCode, string(b)
}

// page is a page that must be there.
func (o *office) page(address string) string {
	o.t.Helper()
	status, body := o.asked(o.client, http.MethodGet, address, nil, nil)
	if status != http.StatusOK {
		o.t.Fatalf("%s: %d %.2000s; %v", address, status, body, o.told())
	}
	return body
}

// idOf is the id of the descent of a road.
func (o *office) idOf(road string) string {
	o.t.Helper()
	es, err := o.server.cat.Descents(context.Background(), store.Filter{Route: road, WithRetired: true})
	if err != nil || len(es) == 0 {
		o.t.Fatalf("%s has no descent: %v", road, err)
	}
	return es[0].Descent.ID
}

// manyDescents writes a catalogue of n invented descents.
func manyDescents(t testing.TB, path string, n int) {
	t.Helper()
	ctx := context.Background()
	c, err := store.Open(ctx, path, store.Options{Create: true, Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	s := c.BeginSurvey(store.SaveOptions{By: "Ada"})
	for i := range n {
		e := specimen.Entry(routes.Forward)
		e.Descent.DropM += float64(i) / 10
		name := fmt.Sprintf("Road %05d", i)
		for k := range e.Line {
			e.Line[k].LonDeg += float64(i%100) / 50
			e.Line[k].LatDeg += float64(i/100) / 50
		}
		if _, err := s.Save(ctx, store.RouteSurvey{Route: store.RouteRecord{ID: name, Name: name, Reliable: true}, Entries: []catalog.Entry{e}}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
