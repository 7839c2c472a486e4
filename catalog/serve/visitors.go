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

// visitors are admitted by the token, by a password or by a trusted proxy. After the first two a
// cookie identifies them. The cookie is neither token nor password: nobody can make another from
// it.
type visitors struct {
	now func() time.Time

	mu     sync.Mutex
	visits map[string]visit // by cookie
	failed map[string]int   // wrong passwords by address in the current minute
	since  time.Time
	turn   chan struct{} // one password at a time: a comparison is slow by design
}

// visit is a visitor who was admitted; name is empty after admission by the token.
type visit struct {
	name  string
	until time.Time
}

const (
	visitCookie    = "gradeline_visit"
	visitTime      = 12 * time.Hour // a working day
	mostVisits     = 10_000
	mostWrongTries = 10 // wrong passwords a minute from one address
)

func newVisitors(now func() time.Time) *visitors {
	return &visitors{now: now, visits: map[string]visit{}, failed: map[string]int{}, turn: make(chan struct{}, 1)}
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// letIn makes a cookie for a visitor.
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
		for k := range v.visits { // still too many: drop any one; that visitor can enter again
			if len(v.visits) < mostVisits {
				break
			}
			delete(v.visits, k)
		}
	}
	v.visits[cookie] = visit{name, now.Add(visitTime)}
	return cookie
}

// of is the visit of a request's cookie.
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

// nameKey is the key of the visitor's name in a request's context.
type nameKey struct{}

// nameOf is the visitor's name where the server knows it.
func nameOf(r *http.Request) string {
	name, _ := r.Context().Value(nameKey{}).(string)
	return name
}

// proxyHeader is the header in which a trusted proxy names the visitor.
const proxyHeader = "X-Forwarded-User"

// visitOf is the visit of a request; false for an unknown visitor.
func (s *Server) visitOf(r *http.Request) (visit, bool) {
	if s.opt.Proxy != nil && s.opt.Proxy.Equal(net.ParseIP(addressOf(r))) {
		// Only the proxy's own connection is trusted: anybody can write a header.
		name := strings.TrimSpace(wording.Plain(r.Header.Get(proxyHeader)))
		return visit{name: name}, checkName(name) == nil
	}
	return s.visitors.of(r)
}

// known admits known visitors, and sends a cookie to a visitor with the token.
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
			s.refuse(w, r, http.StatusUnauthorized, "You are not signed in.", "Sign in, then send the form again; your text is still on the previous page.")
		default:
			s.refuse(w, r, http.StatusUnauthorized, "This page needs the address with the token.", "Open the address that the server printed, with its token.")
		}
	})
}

// byToken admits a visitor who opens the printed address, and removes the token from the address bar.
func (s *Server) byToken(w http.ResponseWriter, r *http.Request, token string) {
	if !same(token, s.opt.Token) {
		s.refuse(w, r, http.StatusUnauthorized, "The token in this address is not valid for this server.", "Open the address that the server printed when it started; each start has a new token.")
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

// enter admits a visitor with a name and its password.
func (s *Server) enter(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.failForm(w, r, err)
		return
	}
	name, to, address := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("back"), addressOf(r)
	if s.opt.Users == nil {
		s.refuse(w, r, http.StatusNotFound, "This server has no sign-in.", "Open the address that the server printed.")
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
		s.showEnter(w, r, http.StatusUnauthorized, to, name, "The name or the password is wrong.")
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

// cookie is one that scripts cannot read and that forms of other sites do not send.
func (s *Server) cookie(r *http.Request, name, value string) *http.Cookie {
	return &http.Cookie{Name: name, Value: value, Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: r.TLS != nil || s.opt.Proxy != nil}
}
