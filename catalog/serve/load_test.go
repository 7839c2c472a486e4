package serve

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gradeline/catalog/store"
)

// crowd has readers look at lists and reviewers send reviews for a time, and gives how long
// each list took and what became of the reviews.
func crowd(t testing.TB, descents, readers, reviewers int, long time.Duration) (times []time.Duration, kept, refused int, o *office) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "many.gpkg")
	manyDescents(t, path, descents)
	o = officeOver(t, path)
	o.page("/") // the list is in memory
	transport := &http.Transport{MaxIdleConnsPerHost: readers + reviewers}
	client := &http.Client{Jar: o.client.Jar, Transport: transport}
	defer transport.CloseIdleConnections()
	var mu sync.Mutex
	var wg sync.WaitGroup
	end := time.Now().Add(long)
	for n := range readers {
		wg.Go(func() {
			// A person looks at a list for a second before the next.
			time.Sleep(time.Duration(n) * time.Second / time.Duration(readers))
			for time.Now().Before(end) {
				begun := time.Now()
				w, err := client.Get(o.web.URL + fmt.Sprintf("/?class=us-5axle&page=%d", n%10+1))
				if err != nil {
					t.Error(err)
					return
				}
				_, err = io.Copy(io.Discard, w.Body)
				w.Body.Close()
				mu.Lock()
				times = append(times, time.Since(begun))
				mu.Unlock()
				if err != nil || w.StatusCode != http.StatusOK {
					t.Errorf("a reader gets %d, %v", w.StatusCode, err)
					return
				}
				time.Sleep(max(0, time.Second-time.Since(begun)))
			}
		})
	}
	for n := range reviewers {
		wg.Go(func() {
			for i := 0; time.Now().Before(end); i++ {
				id := fmt.Sprintf("road-%05d-f-1.5", (n+i*reviewers/2)%min(descents, 20)) // two meet now and then
				status, body := o.asked(client, http.MethodGet, "/descent/"+id, nil, nil)
				if status != http.StatusOK {
					t.Errorf("%s: %d", id, status)
					return
				}
				form := url.Values{"version": {versionField.FindStringSubmatch(body)[1]}, "by": {fmt.Sprintf("Reviewer %d", n)}, "state": {"field-checked"}, "note": {fmt.Sprintf("look %d", i)}}
				status, _ = o.asked(client, http.MethodPost, "/descent/"+id+"/review", form, nil)
				mu.Lock()
				switch status {
				case http.StatusOK:
					kept++
				case http.StatusConflict:
					refused++
				default:
					t.Errorf("a review gets %d; %v", status, o.told())
				}
				mu.Unlock()
				time.Sleep(300 * time.Millisecond)
			}
		})
	}
	wg.Wait()
	return times, kept, refused, o
}

// recorded is how many reviews the history has.
func (o *office) recorded() (n int) {
	o.t.Helper()
	events, err := o.server.cat.History(o.t.Context(), "")
	if err != nil {
		o.t.Fatal(err)
	}
	for _, e := range events {
		if e.What == "review" {
			n++
		}
	}
	return n
}

// Readers and reviewers at once: nobody is turned away, and every review that was
// answered as kept is in the history.
func TestReadersAndReviewersAtOnce(t *testing.T) {
	times, kept, refused, o := crowd(t, 300, 40, 3, 3*time.Second)
	if n := o.recorded(); n != kept || kept == 0 {
		t.Errorf("%d reviews were answered as kept, the history has %d", kept, n)
	}
	slices.Sort(times)
	t.Logf("%d lists, p99 %v; %d reviews kept, %d told of another's", len(times), times[len(times)*99/100], kept, refused)
}

// BenchmarkCrowd is 200 readers, a list a second each, and 5 reviewers over 10,000 descents,
// for a minute.
func BenchmarkCrowd(b *testing.B) {
	for b.Loop() {
		times, kept, refused, o := crowd(b, 10_000, 200, 5, time.Minute)
		if n := o.recorded(); n != kept || kept == 0 {
			b.Errorf("%d reviews were answered as kept, the history has %d", kept, n)
		}
		slices.Sort(times)
		b.ReportMetric(float64(len(times)), "lists")
		b.ReportMetric(times[len(times)/2].Seconds()*1000, "ms-median")
		b.ReportMetric(times[len(times)*99/100].Seconds()*1000, "ms-p99")
		b.ReportMetric(float64(kept), "reviews-kept")
		b.ReportMetric(float64(refused), "told-of-another")
	}
}

// A client that reads slowly, or not at all, keeps nobody waiting.
func TestASlowClientHoldsNobody(t *testing.T) {
	o := newOffice(t)
	u, err := url.Parse(o.web.URL)
	if err != nil {
		t.Fatal(err)
	}
	var cookies []string
	for _, c := range o.client.Jar.Cookies(u) {
		cookies = append(cookies, c.String())
	}
	for range 20 {
		c, err := net.Dial("tcp", u.Host)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		fmt.Fprintf(c, "GET /files/report.html HTTP/1.1\r\nHost: %s\r\nCookie: %s\r\n\r\n", u.Host, strings.Join(cookies, "; ")) // and reads nothing
	}
	id := o.idOf("Harrow Hill Road")
	if status, _ := o.send(id, o.version(id), url.Values{"state": {"approved"}, "by": {"Ada"}}); status != http.StatusOK {
		t.Errorf("a review beside slow readers: %d", status)
	}
	o.page("/")
}

// One list of a hundred of 10,000 descents, for a class.
func BenchmarkList(b *testing.B) {
	path := filepath.Join(b.TempDir(), "many.gpkg")
	manyDescents(b, path, 10_000)
	s, err := New(b.Context(), Options{Hosts: []string{"office"}, Token: "sesame", Open: func(ctx context.Context, forChange bool) (*store.Catalog, error) {
		return store.Open(ctx, path, store.Options{ReadOnly: !forChange})
	}})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	cookie := &http.Cookie{Name: visitCookie, Value: s.visitors.letIn("")}
	list := func() {
		r := httptest.NewRequest(http.MethodGet, "http://office/?class=us-5axle&page=3", nil)
		r.AddCookie(cookie)
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
	list() // is in memory from now on
	for b.Loop() {
		list()
	}
}
