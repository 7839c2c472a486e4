package serve

import (
	"context"
	"maps"
	"slices"
	"sync"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
)

// snapshot is the catalogue's list as it was at one moment.
type snapshot struct {
	mark     fileMark
	at       time.Time
	rows     []row // in order of danger
	byID     map[string]int
	classes  []string
	routes   []string // texts as printed
	invented bool
	gaps     []string // roads that are not completely known
	sites    []catalog.Site
	steep    steepParts

	hasNetwork bool // of roads, to find ways through

	orderMu sync.Mutex
	orders  map[int][]int // rows in order of danger, by class; made on request

	pageMu sync.Mutex
	pages  map[string]keptPage // lists as sent, by the values on which they depend

	sayMu   sync.Mutex
	say     []survey.DrivesSay // what recorded drives say of all descents; made on request
	hasSaid bool
}

// drivesSay compares the kept drives with all descents, once for each state of the catalogue.
func (s *snapshot) drivesSay(ctx context.Context, cat *store.Catalog) ([]survey.DrivesSay, error) {
	s.sayMu.Lock()
	defer s.sayMu.Unlock()
	if s.hasSaid {
		return s.say, nil
	}
	say, err := survey.SayAllDrives(ctx, cat)
	if err != nil {
		return nil, err
	}
	s.say, s.hasSaid = say, true
	return say, nil
}

// keptPage is a list as it was sent.
type keptPage struct {
	body    []byte
	rows    map[string]bool // ids of the descents on it
	isFixed bool            // a review of another descent does not change it
}

// mostPages is the number of lists kept for one state of the catalogue, some 60 kB each.
const mostPages = 64

func (s *snapshot) page(key string) []byte {
	s.pageMu.Lock()
	defer s.pageMu.Unlock()
	return s.pages[key].body
}

func (s *snapshot) keepPage(key string, page keptPage) {
	s.pageMu.Lock()
	defer s.pageMu.Unlock()
	if s.pages == nil {
		s.pages = map[string]keptPage{}
	}
	for old := range s.pages { // any one: it is made again when somebody asks
		if len(s.pages) < mostPages {
			break
		}
		delete(s.pages, old)
	}
	s.pages[key] = page
}

// order is the rows' order of danger for a class.
func (s *snapshot) order(class int) []int {
	s.orderMu.Lock()
	defer s.orderMu.Unlock()
	if o := s.orders[class]; o != nil {
		return o
	}
	o := make([]int, len(s.rows))
	for i := range o {
		o[i] = i
	}
	slices.SortStableFunc(o, func(a, b int) int { return byDanger(&s.rows[a], &s.rows[b], class) })
	if s.orders == nil {
		s.orders = map[int][]int{}
	}
	s.orders[class] = o
	return o
}

// with is the snapshot with one row replaced, for another state of the file.
func (s *snapshot) with(at int, r row, mark fileMark) *snapshot {
	next := &snapshot{mark: mark, at: time.Now(), rows: slices.Clone(s.rows), byID: s.byID, classes: s.classes, routes: s.routes, invented: s.invented, gaps: s.gaps, sites: s.sites, steep: s.steep, hasNetwork: s.hasNetwork}
	next.rows[at] = r
	if old := &s.rows[at]; slices.Equal(r.answers, old.answers) && (r.state == retired) == (old.state == retired) {
		next.pages = s.pagesWithout(r.id)
	}
	if slices.Equal(r.answers, s.rows[at].answers) { // a review that changes no answer changes no order
		s.orderMu.Lock()
		defer s.orderMu.Unlock()
		next.orders = maps.Clone(s.orders)
	}
	return next
}

// retired is the state that takes a descent off a list without a filter.
const retired = string(catalog.Retired)

// pagesWithout are the kept lists that a review of one descent leaves as they are.
func (s *snapshot) pagesWithout(id string) map[string]keptPage {
	s.pageMu.Lock()
	defer s.pageMu.Unlock()
	out := map[string]keptPage{}
	for key, p := range s.pages {
		if p.isFixed && !p.rows[id] {
			out[key] = p
		}
	}
	return out
}

// classIndex is the index of a class in the rows; −1 for none.
func (s *snapshot) classIndex(class string) int { return slices.Index(s.classes, class) }
