// Package serve is the office's page: a catalogue in the browser, by default on this machine only.
// It lists the descents in order of danger, shows each with its profile, advice and history,
// provides the driver's page and files, and records reviews. New takes a function that opens the
// catalogue, and returns a Server. Serve answers on a listener until its context ends; Handler is
// for a caller with its own HTTP server. Pages work without scripts and load nothing from other
// servers. A visitor needs the token of the printed address once and then a cookie, or a name and
// password, or a trusted proxy that names them. Typed text is treated as text, never as markup or
// a path. Packages answer and wording put the advice into words, so that it is never shown without
// its marks: NOT HELD, unknown, DRY ROAD ONLY, in question, unreliable, not reviewed.
package serve

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"io/fs"
	"net"
	"net/http"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"time"

	"golang.org/x/net/netutil"

	"gradeline/catalog"
	"gradeline/catalog/spread"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/whatif"
	"gradeline/terrain"
)

// Options set the content of a Server and its visitors.
type Options struct {
	// Open opens the catalogue, for reading or to be changed; it is called once for each.
	Open    func(ctx context.Context, forChange bool) (*store.Catalog, error)
	Classes []vehicle.Class // classes, for their names and their countries' units
	Units   catalog.Units   // units until a visitor chooses others
	Terrain terrain.Surface // under the map; nil for none
	Hosts   []string        // host names that a request may use, with their port; see HostsOf
	Token   string          // token that admits a visitor; random where empty, none with Users or Proxy
	Users   *Users          // people with passwords; nil for none
	Proxy   net.IP          // a reverse proxy that names the visitor in X-Forwarded-User; nil for none
	TLS     *tls.Config     // with a certificate; nil for plain HTTP
	Now     func() time.Time
	Failed  func(error) // called with faults that a visitor sees as "500", by several goroutines at once; may be nil

	// Programs are wasm_exec.js and whatif.wasm.gz; nil for those built in, if any. Without them
	// the server computes the answers of the page.
	Programs fs.FS

	Work *Work // surveys that may be started from the page; nil for none

	// Spread says where the surveys over several machines are, as spread.Board does; nil for none.
	Spread func(context.Context) ([]spread.Progress, error)

	MostPerAddress int // simultaneous requests of one address; 0 for 400
}

// Server answers for one catalogue. It is safe for concurrent use.
type Server struct {
	opt       Options
	cat       *store.Catalog // reads
	list      *listing
	ways      *ways
	turns     chan struct{} // places for those who read descents; see inTurn
	tiles     *tiles        // nil without a terrain
	static    staticFiles
	worker    *worker // nil without work
	spread    *spreadRuns
	isBuiltIn bool // all classes are built in, with these figures
	visitors  *visitors
	decideMu  sync.Mutex // locked during a decision
	changeMu  sync.Mutex
	writer    *store.Catalog // opened by the first change
	handler   http.Handler
}

// Limits for one visitor; our own choice, far more than a person needs.
const (
	mostConnections = 1024
	mostHeaderBytes = 16 << 10
	mostFormBytes   = 64 << 10
	mostTime        = 30 * time.Second // time limit for one answer
	closeTime       = time.Second      // time for unfinished answers when the server ends
)

// New opens the catalogue for reading.
func New(ctx context.Context, o Options) (*Server, error) {
	cat, err := o.Open(ctx, false)
	if err != nil {
		return nil, err
	}
	if o.Users != nil || o.Proxy != nil {
		o.Token = ""
	} else if o.Token == "" {
		o.Token = rand.Text()
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.MostPerAddress == 0 {
		o.MostPerAddress = 400
	}
	s := &Server{opt: o, cat: cat, isBuiltIn: whatif.AreBuiltIn(o.Classes), list: newListing(cat), ways: newWays(), turns: make(chan struct{}, max(1, runtime.NumCPU()-1)), tiles: newTiles(o.Terrain), visitors: newVisitors(o.Now), spread: &spreadRuns{status: o.Spread}}
	if s.static, err = newStaticFiles(o.Programs); err == nil {
		s.worker, err = newWorker(o.Work)
	}
	if err != nil {
		return nil, errors.Join(err, cat.Close())
	}
	if _, _, err := s.list.current(ctx); err != nil { // so that it is ready for the first visitor
		return nil, errors.Join(err, cat.Close())
	}
	s.handler = s.guarded(s.routes())
	return s, nil
}

// inTurn runs a function that reads or changes descents in the file. After each change a reading
// connection compares the indexes anew, which takes far longer than a list from memory: one core
// remains for the lists.
func (s *Server) inTurn(ctx context.Context, f func() error) error {
	select {
	case s.turns <- struct{}{}:
		defer func() { <-s.turns }()
		return f()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Token is the value of ?token= in the address that admits a visitor; empty where people sign in.
func (s *Server) Token() string { return s.opt.Token }

// Handler answers requests.
func (s *Server) Handler() http.Handler { return s.handler }

// Close stops a running survey and closes the catalogue.
func (s *Server) Close() error {
	s.worker.close()
	s.changeMu.Lock()
	defer s.changeMu.Unlock()
	err := s.cat.Close()
	if s.writer != nil {
		err = errors.Join(err, s.writer.Close())
		s.writer = nil
	}
	return err
}

// Serve answers on a listener until ctx ends, then gives unfinished answers one more second. It
// closes the listener and the catalogue.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	h := &http.Server{
		Handler: s.handler, MaxHeaderBytes: mostHeaderBytes,
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 20 * time.Second, WriteTimeout: 2 * time.Minute, IdleTimeout: time.Minute,
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
	ended := make(chan error, 1)
	l = netutil.LimitListener(l, mostConnections)
	if s.opt.TLS != nil {
		l = tls.NewListener(l, s.opt.TLS)
	}
	go func() { ended <- h.Serve(l) }()
	select {
	case err := <-ended:
		return errors.Join(err, s.Close())
	case <-ctx.Done():
	}
	if s.worker != nil {
		s.worker.end() // also for visitors who watch a survey
	}
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), closeTime)
	defer cancel()
	if err := h.Shutdown(late); err != nil {
		_ = h.Close() // answers that do not finish in time are cut off
	}
	<-ended
	return s.Close()
}

// HostsOf are the host names of a listener: its address, for a loopback address the names of this
// machine, and the given others, with and without port.
func HostsOf(a net.Addr, others ...string) []string {
	host, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return nil
	}
	out := []string{net.JoinHostPort(host, port)}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		out = append(out, net.JoinHostPort("localhost", port), net.JoinHostPort("127.0.0.1", port), net.JoinHostPort("::1", port))
	}
	for _, name := range others {
		name = strings.ToLower(name)
		out = append(out, name, net.JoinHostPort(name, port))
	}
	return out
}

// Address is the address that a person opens: for a listener on this machine with the token, else
// with the first name that the server answers to.
func (s *Server) Address(a net.Addr) string {
	u := url.URL{Scheme: "http", Host: a.String(), Path: "/"}
	if s.opt.TLS != nil {
		u.Scheme = "https"
	}
	if !IsLocal(a) && len(s.opt.Hosts) > 1 {
		u.Host = s.opt.Hosts[len(s.opt.Hosts)-1]
	}
	if s.opt.Token != "" {
		u.RawQuery = url.Values{"token": {s.opt.Token}}.Encode()
	}
	return u.String()
}

// LoadTLS reads a certificate and its key for Options.TLS.
func LoadTLS(certFile, keyFile string) (*tls.Config, error) {
	pair, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		return nil, err
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}, nil
}

// MayAnswerOn reports whether visitors at an address are identified safely. Beyond this machine
// that needs passwords over TLS, or a proxy.
func (o *Options) MayAnswerOn(a net.Addr) bool {
	return IsLocal(a) || o.Proxy != nil || o.Users != nil && o.TLS != nil
}

// IsLocal reports whether an address is reachable from this machine only.
func IsLocal(a net.Addr) bool {
	t, ok := a.(*net.TCPAddr)
	return ok && t.IP.IsLoopback()
}
