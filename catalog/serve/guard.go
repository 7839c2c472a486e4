package serve

import (
	"context"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
)

// policy lets a page load from this server only, and run no code in the page itself.
const policy = "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// documentPolicy is for pages that contain their style and pictures, and no code.
const documentPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// sheetPolicy lets this server's own pages contain the driver's page, for printing.
var sheetPolicy = strings.Replace(documentPolicy, "frame-ancestors 'none'", "frame-ancestors 'self'", 1)

// guarded checks each request, and tells the browser what a page may do.
func (s *Server) guarded(next http.Handler) http.Handler {
	sameOrigin := http.NewCrossOriginProtection()
	sameOrigin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, r, http.StatusForbidden, "This form was sent from another site.", "Open the page itself and send the form from there.")
	}))
	limits := newLimiter(s.opt.MostPerAddress)
	inner := s.known(sameOrigin.Handler(limited(next)))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !slices.Contains(s.opt.Hosts, strings.ToLower(r.Host)) {
			// A foreign page can reach this machine through another host name that resolves to it.
			s.refuse(w, r, http.StatusMisdirectedRequest, "This server does not answer to that name.", "Open the address that it printed.")
			return
		}
		if !limits.enter(addressOf(r)) {
			h.Set("Retry-After", "2")
			s.refuse(w, r, http.StatusTooManyRequests, "Too many requests at once from this address.", "Wait a few seconds and try again.")
			return
		}
		defer limits.leave(addressOf(r))
		inner.ServeHTTP(w, r)
	})
}

// limited limits the time and the size of one request.
func limited(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Body != nil {
			r.Body = http.MaxBytesReader(w, r.Body, mostFormBytes)
		}
		ctx, cancel := context.WithTimeout(r.Context(), mostTime)
		defer cancel()
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// limiter counts the current requests of each address.
type limiter struct {
	most int
	mu   sync.Mutex
	busy map[string]int
}

func newLimiter(most int) *limiter { return &limiter{most: most, busy: map[string]int{}} }

func (l *limiter) enter(address string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.busy[address] >= l.most {
		return false
	}
	l.busy[address]++
	return true
}

func (l *limiter) leave(address string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.busy[address]--; l.busy[address] <= 0 {
		delete(l.busy, address)
	}
}
