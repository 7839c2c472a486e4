package serve

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"context"

	"gradeline/catalog/store"
)

// Whatever stands in the address bar or a form, the answer is a page or a refusal: no
// fault of the server, no markup of the visitor's.
func FuzzQueriesAndForms(f *testing.F) {
	for _, s := range []string{"class=us-5axle&answer=not&longer=2km", "box=-110.1,44.0,-109,44.1&page=2", "text=%3Cscript%3Ealert(1)%3C/script%3E", "steeper=6%25&direction=forward&state=approved",
		"state=approved&by=Ada&version=1&measured=6.3&note=x", "decision=accept&decision=refuse&by=%00", "version=9223372036854775808&by=a&state=lost", "longer=1e400km", "grade=8%25&length=6mi&mass=1e9t&class=us-5axle"} {
		f.Add(s)
	}
	path := filepath.Join(f.TempDir(), "hills.gpkg")
	saveSpecimens(f, path)
	s, err := New(context.Background(), Options{Hosts: []string{"office"}, Token: "sesame", Open: func(ctx context.Context, forChange bool) (*store.Catalog, error) {
		return store.Open(ctx, path, store.Options{ReadOnly: !forChange})
	}})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { s.Close() })
	cookie := &http.Cookie{Name: visitCookie, Value: s.visitors.letIn("")}
	ask := func(t *testing.T, method, address, form string) {
		r := httptest.NewRequest(method, "http://office/", strings.NewReader(form))
		u, err := url.Parse("http://office" + address)
		if err != nil {
			return
		}
		r.URL = u
		r.AddCookie(cookie)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if body := w.Body.String(); w.Code >= 500 || strings.Contains(body, "<script>alert") {
			t.Errorf("%s %s %q: %d %.300s", method, address, form, w.Code, body)
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		ask(t, http.MethodGet, "/?"+text, "")
		ask(t, http.MethodGet, "/map?"+text, "")
		ask(t, http.MethodGet, "/whatif?"+text, "")
		ask(t, http.MethodGet, "/whatif?descent=harrow-hill-road-f-1.5&"+text, "")
		ask(t, http.MethodGet, "/descent/"+text, "")
		ask(t, http.MethodPost, "/descent/harrow-hill-road-f-1.5/review", text)
		ask(t, http.MethodPost, "/units", text)
	})
}
