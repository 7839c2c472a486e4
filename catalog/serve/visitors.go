package serve

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"gradeline/catalog/wording"
)

// visitors are let in by the token, by a password or by a trusted proxy. Who came by the
// first two is known by a cookie from then on. The cookie is neither token nor password:
// who sees it cannot make others from it.
type visitors struct {
	now func() time.Time

	mu     sync.Mutex
	visits map[string]visit // by cookie
	failed map[string]int   // passwords that were wrong, by address, since the last minute began
	since  time.Time
	turn   chan struct{} // one password at a time: comparing takes its time by design
}

// visit is somebody who was let in; name is empty for who came by the token.
type visit struct {
	name  string
	until time.Time
}

const (
	visitCookie    = "gradeline_visit"
	visitTime      = 12 * time.Hour // a working day
	mostVisits     = 10_000
	mostWrongTries = 10 // passwords a minute from one address
)

func newVisitors(now func() time.Time) *visitors {
	return &visitors{now: now, visits: map[string]visit{}, failed: map[string]int{}, turn: make(chan struct{}, 1)}
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// letIn gives a cookie for somebody.
func (v *visitors) letIn(name string) string {
	cookie := rand.Text()
	v.mu.Lock()
	defer v.mu.Unlock()
	now := v.now()
	if len(v.visits) >= mostVisits {
		for k, x := range v.visits {
			if now.After(x.until) {
				delete(v.visits, k)
			}
		}
		for k := range v.visits { // still too many: any goes, and comes in again
			if len(v.visits) < mostVisits {
				break
			}
			delete(v.visits, k)
		}
	}
	v.visits[cookie] = visit{name, now.Add(visitTime)}
	return cookie
}

// of is who a request's cookie stands for.
func (v *visitors) of(r *http.Request) (visit, bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, c := range r.CookiesNamed(visitCookie) {
		if x, found := v.visits[c.Value]; found && v.now().Before(x.until) {
			return x, true
		}
	}
	return visit{}, false
}

// leave ends a request's visit.
func (v *visitors) leave(r *http.Request) {
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, c := range r.CookiesNamed(visitCookie) {
		delete(v.visits, c.Value)
	}
}

// mayTry reports whether an address may try another password now.
func (v *visitors) mayTry(address string) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	if now := v.now(); now.Sub(v.since) > time.Minute {
		v.since, v.failed = now, map[string]int{}
	}
	return v.failed[address] < mostWrongTries
}

func (v *visitors) fail(address string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.failed[address]++
}

// nameKey is where a request's context has the visitor's name.
type nameKey struct{}

// nameOf is the visitor's name where the server knows it.
func nameOf(r *http.Request) string {
	name, _ := r.Context().Value(nameKey{}).(string)
	return name
}

// proxyHeader is where a trusted proxy says who the visitor is.
const proxyHeader = "X-Forwarded-User"

// visitOf is who asks; false for a stranger.
func (s *Server) visitOf(r *http.Request) (visit, bool) {
	if s.opt.Proxy != nil && s.opt.Proxy.Equal(net.ParseIP(addressOf(r))) {
		// Only the proxy's own connection is believed: anybody can write a header.
		name := strings.TrimSpace(wording.Plain(r.Header.Get(proxyHeader)))
		return visit{name: name}, checkName(name) == nil
	}
	return s.visitors.of(r)
}

// known lets in who is known, and gives a cookie to who brings the token.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if token := r.URL.Query().Get("token"); token != "" && r.Method == http.MethodGet && s.opt.Token != "" {
			s.byToken(w, r, token)
			return
		}
		who, isIn := s.visitOf(r)
		switch {
		case isIn:
			next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), nameKey{}, who.name)))
		case strings.HasPrefix(r.URL.Path, "/static/"), s.opt.Users != nil && r.URL.Path == "/enter":
			next.ServeHTTP(w, r)
		case s.opt.Users != nil && r.Method == http.MethodGet:
			http.Redirect(w, r, "/enter?"+url.Values{"back": {localPath(r.URL)}}.Encode(), http.StatusSeeOther)
		case s.opt.Users != nil || s.opt.Proxy != nil:
			s.refuse(w, r, http.StatusUnauthorized, "Nobody is signed in here.", "Sign in, then send the form again; what you typed is still in the page before.")
		default:
			s.refuse(w, r, http.StatusUnauthorized, "This page is for people who were given its address.", "Open the address that the server printed, with its token.")
		}
	})
}

// byToken lets in who opens the printed address, and takes the token out of the address bar.
func (s *Server) byToken(w http.ResponseWriter, r *http.Request, token string) {
	if !same(token, s.opt.Token) {
		s.refuse(w, r, http.StatusUnauthorized, "The token in this address is not this server's.", "Open the address that the server printed when it began; it has a new one each time.")
		return
	}
	http.SetCookie(w, s.cookie(r, visitCookie, s.visitors.letIn("")))
	to := *r.URL
	q := to.Query()
	q.Del("token")
	to.RawQuery = q.Encode()
	w.Header().Set("Referrer-Policy", "no-referrer")
	http.Redirect(w, r, localPath(&to), http.StatusSeeOther)
}

// enterView is the form of name and password.
type enterView struct {
	frame
	To, Name, Trouble string
}

func (s *Server) enterPage(w http.ResponseWriter, r *http.Request) {
	s.showEnter(w, r, http.StatusOK, r.URL.Query().Get("back"), "", "")
}

func (s *Server) showEnter(w http.ResponseWriter, r *http.Request, status int, to, name, trouble string) {
	f := s.frame(r, "Sign in")
	f.IsIn = false
	s.show(w, r, status, "enter", enterView{f, to, wording.Plain(name), trouble})
}

// enter lets in who knows a name and its password.
func (s *Server) enter(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.failForm(w, r, err)
		return
	}
	name, to, address := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("back"), addressOf(r)
	if s.opt.Users == nil {
		s.refuse(w, r, http.StatusNotFound, "Nobody signs in here.", "Open the address that the server printed.")
		return
	}
	if !s.visitors.mayTry(address) {
		w.Header().Set("Retry-After", "60")
		s.showEnter(w, r, http.StatusTooManyRequests, to, name, "Too many wrong passwords from your address. Wait a minute.")
		return
	}
	select {
	case s.visitors.turn <- struct{}{}:
	case <-r.Context().Done():
		return
	}
	isUser := s.opt.Users.isUser(name, r.PostForm.Get("password"))
	<-s.visitors.turn
	if !isUser {
		s.visitors.fail(address)
		s.showEnter(w, r, http.StatusUnauthorized, to, name, "Name and password do not belong together.")
		return
	}
	http.SetCookie(w, s.cookie(r, visitCookie, s.visitors.letIn(name)))
	back, err := url.Parse(to)
	if err != nil {
		back = &url.URL{Path: "/"}
	}
	http.Redirect(w, r, localPath(back), http.StatusSeeOther)
}

// goOut ends a visit.
func (s *Server) goOut(w http.ResponseWriter, r *http.Request) {
	s.visitors.leave(r)
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// cookie is one that scripts do not see and that other sites' forms do not carry.
func (s *Server) cookie(r *http.Request, name, value string) *http.Cookie {
	return &http.Cookie{Name: name, Value: value, Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil || s.opt.Proxy != nil}
}
