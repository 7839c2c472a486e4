package serve

import (
	"cmp"
	"context"
	"encoding/binary"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
)

// listing holds the data of every descent for lists and maps. It is read again when the file has
// changed: lists are requested often, and files change seldom.
type listing struct {
	cat    *store.Catalog
	now    atomic.Pointer[snapshot]
	own    atomic.Pointer[fileMark] // state before a change that this server is making; nil for none
	mu     sync.Mutex               // held while the file is read
	took   time.Duration
	readAt time.Time
}

// row is one descent of the list.
type row struct {
	id, title, heading, search string
	route                      string
	direction                  string
	lengthM, dropM             float64
	meanPct, meanErrPct        float64
	steep500Pct, steep500Err   float64
	flags                      []string
	state, question            string
	answers                    []cell   // by class, as in snapshot.classes
	goesOn                     []string // roads in which the hill continues
	line                       []place
}

// place is a point of a line on the map.
type place struct{ lonDeg, latDeg float32 }

// cell is the answer for one class.
type cell struct {
	code       code
	metric, us string
	speedMPS   float64
}

func (c *cell) words(u catalog.Units) string {
	if u == catalog.US {
		return c.us
	}
	return c.metric
}

// code is an answer as a short code of the pages, the worst first.
type code uint8

const (
	codeNot code = iota
	codeUnknown
	codeDry
	codeHeld
)

var codeNames = []string{"not", "unknown", "dry", "held"}

func (c code) String() string { return codeNames[c] }

// codeOf is the code of an answer.
func codeOf(a wording.Answer, h *catalog.Hold) code {
	switch {
	case a == wording.NotHeld:
		return codeNot
	case a == wording.Unknown:
		return codeUnknown
	case h.IsDryRoadOnly():
		return codeDry
	}
	return codeHeld
}

// fileMark identifies a state of the file: SQLite counts its changes in bytes 24 to 27 of the file
// (sqlite.org/fileformat2.html section 1.3.7), except in write-ahead mode, where the log grows.
type fileMark struct {
	size, logSize   int64
	changed, logged time.Time
	count           [4]byte
}

func markOf(path string) (fileMark, error) {
	var m fileMark
	f, err := os.Open(path)
	if err != nil {
		return m, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return m, err
	}
	m.size, m.changed = info.Size(), info.ModTime()
	if log, err := os.Stat(path + "-wal"); err == nil {
		m.logSize, m.logged = log.Size(), log.ModTime()
	}
	_, err = f.ReadAt(m.count[:], 24)
	if err == io.EOF {
		err = nil
	}
	return m, err
}

func newListing(cat *store.Catalog) *listing { return &listing{cat: cat} }

// restShare is the pause after the list was read, as a multiple of the reading time: while another
// program writes all the time, half the machine remains for answers.
const restShare = 4

// current is the list of the file's current state. While another program changes the file all the
// time, or while somebody else reads it again, the list may be some seconds old; isOld reports that.
// During a change of this server's own, which nobody was told of yet, it is the state before.
func (l *listing) current(ctx context.Context) (s *snapshot, isOld bool, err error) {
	mark, err := markOf(l.cat.LocalPath())
	if err != nil {
		return nil, false, &catalog.Fault{Kind: catalog.ErrNotFound, What: "the catalogue no longer exists", Err: err}
	}
	own := l.own.Load()
	s = l.now.Load()
	switch {
	case s == nil:
		l.mu.Lock()
	case s.mark == mark, own != nil && s.mark == *own:
		return s, false, nil
	case !l.mu.TryLock():
		return s, true, nil
	}
	defer l.mu.Unlock()
	if s := l.now.Load(); s != nil {
		if s.mark == mark {
			return s, false, nil
		}
		if time.Since(l.readAt) < restShare*l.took {
			return s, true, nil
		}
	}
	begun := time.Now()
	s, err = l.read(ctx, mark)
	if err != nil {
		return nil, false, err
	}
	l.now.Store(s)
	l.readAt = time.Now()
	l.took = l.readAt.Sub(begun)
	return s, false, nil
}

// replace updates one descent in the list, if its change is the only one in the file since the list
// was read. Otherwise the next reader reads everything.
func (l *listing) replace(ctx context.Context, id string, before, after fileMark) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	old := l.now.Load()
	if old == nil || old.mark != before || before.changes()+1 != after.changes() || after.logSize != 0 {
		return nil
	}
	at, found := old.byID[id]
	if !found {
		return nil
	}
	return l.cat.Each(ctx, store.Filter{IDs: []string{id}, WithRetired: true, Brief: true, Levers: true}, func(e catalog.Entry) error {
		l.now.Store(old.with(at, old.rowOf(&e), after))
		return nil
	})
}

// changes is the file's change counter; it starts again after four thousand million.
func (m *fileMark) changes() uint32 { return binary.BigEndian.Uint32(m.count[:]) }

// read reads all descents.
func (l *listing) read(ctx context.Context, mark fileMark) (*snapshot, error) {
	s := &snapshot{mark: mark, at: time.Now(), byID: map[string]int{}}
	var err error
	if s.classes, err = l.cat.ClassIDs(ctx); err != nil {
		return nil, err
	}
	roads, err := l.cat.Routes(ctx)
	if err != nil {
		return nil, err
	}
	for _, r := range roads {
		s.routes = append(s.routes, wording.Plain(r.ID))
	}
	if s.gaps, err = answer.RouteGaps(ctx, l.cat, ""); err != nil {
		return nil, err
	}
	if s.sites, err = l.cat.Sites(ctx, store.SiteFilter{}); err != nil {
		return nil, err
	}
	if s.steep, err = l.readSteepParts(ctx); err != nil {
		return nil, err
	}
	sources, _, err := l.cat.NetworkParts(ctx)
	if err != nil {
		return nil, err
	}
	s.hasNetwork = len(sources) > 0
	s.invented = wording.AnyInventedPart(s.steep.Parts)
	for i, gap := range s.gaps {
		s.gaps[i] = wording.Plain(gap)
	}
	err = l.cat.Each(ctx, store.Filter{WithRetired: true, Brief: true, Levers: true}, func(e catalog.Entry) error {
		s.byID[e.Descent.ID] = len(s.rows)
		s.rows = append(s.rows, s.rowOf(&e))
		s.invented = s.invented || e.Provenance.Invented
		return nil
	})
	return s, err
}

// rowOf is a descent as a row of the list.
func (s *snapshot) rowOf(e *catalog.Entry) row {
	d := &e.Descent
	r := row{
		id: d.ID, title: wording.Title(d), heading: wording.Heading(d), route: wording.Plain(d.Route), direction: d.Direction.String(),
		lengthM: d.LengthM, dropM: d.DropM, meanPct: d.MeanDowngradePct, meanErrPct: d.MeanDowngradeErrPct,
		steep500Pct: d.Steepest500Pct, steep500Err: d.Steepest500ErrPct, flags: d.Flags,
		state: wording.ReviewState(e), question: wording.Plain(e.Review.InQuestion),
	}
	r.search = strings.ToLower(wording.Plain(d.Name + " " + d.Route + " " + d.ID))
	for _, class := range s.classes {
		a, h, _ := wording.AnswerFor(e, class)
		both := wording.InBoth(func(u catalog.Units) string { return wording.HoldWords(e, class, u) })
		c := cell{code: codeOf(a, h), metric: wording.Plain(both.Metric), us: wording.Plain(both.US)}
		if h != nil {
			c.speedMPS = h.SpeedMPS
		}
		r.answers = append(r.answers, c)
	}
	for i := range d.GoesOn {
		r.goesOn = append(r.goesOn, wording.Plain(d.GoesOn[i].Route))
	}
	r.line = thinned(e.Line)
	return r
}

// mostLinePoints is the number of points of a descent's line on the overview map.
const mostLinePoints = 60

// thinned is a line with an even choice of its points, including both ends.
func thinned(line []catalog.Vertex) []place {
	step := max(1, int(math.Ceil(float64(len(line))/mostLinePoints)))
	var out []place
	for i := 0; i < len(line); i++ {
		if i%step == 0 || i == len(line)-1 {
			out = append(out, place{float32(line[i].LonDeg), float32(line[i].LatDeg)})
		}
	}
	return out
}

// worst is the worst answer of all classes in a row; unknown where there is none.
func (r *row) worst() code {
	if len(r.answers) == 0 {
		return codeUnknown
	}
	return slices.MinFunc(r.answers, func(a, b cell) int { return cmp.Compare(a.code, b.code) }).code
}

// isWithin reports whether a point of the row's line lies in a box.
func (r *row) isWithin(b *store.Box) bool {
	for _, p := range r.line {
		if isIn(b, float64(p.lonDeg), float64(p.latDeg)) {
			return true
		}
	}
	return false
}

func isIn(b *store.Box, lonDeg, latDeg float64) bool {
	inLon := lonDeg >= b.WestDeg && lonDeg <= b.EastDeg
	if b.WestDeg > b.EastDeg { // across the antimeridian
		inLon = lonDeg >= b.WestDeg || lonDeg <= b.EastDeg
	}
	return inLon && latDeg >= b.SouthDeg && latDeg <= b.NorthDeg
}
