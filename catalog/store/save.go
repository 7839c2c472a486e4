package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// SaveRoute replaces the catalogue's data of one route, in one transaction.
// Descents that overlap keep their id and review; see Changes for the rest.
func (c *Catalog) SaveRoute(ctx context.Context, rs RouteSurvey, o SaveOptions) (Changes, error) {
	o.RoutesPerCommit = 1
	s := c.BeginSurvey(o)
	ch, err := s.Save(ctx, rs)
	if err != nil {
		return Changes{}, errors.Join(err, s.Abort())
	}
	return ch, s.Close()
}

// Survey is a batch of routes being saved: many routes in a transaction, each route
// completely. Until Close or Abort, other changes through the same Catalog may wait for
// it; other programs' changes wait for its commits. Not for concurrent use.
type Survey struct {
	c         *Catalog
	o         SaveOptions
	open      bool // a transaction is open
	since     time.Time
	held      time.Duration // time of the lock since other writers last had a chance
	released  time.Time     // when the lock was last given back
	routes    int           // saved since the last commit
	bytes     int           // approximate bytes written since the last commit
	committed int
	planner   planner
	classes   map[string]int64 // class and fingerprint to key
	origins   map[string]int64 // provenance to key
	networks  map[string]int64 // files of a network to key
	// The last keys used; 0 if not known.
	lastDescent, lastRoute, lastPart int64
	extent, steepExtent              gpkg.Envelope // extent of the rows written since the last commit
	last                             *catalog.Provenance
	lastOrigin                       int64 // the key of last
	scratch                          *gpkg.Scratch
	texts                            textKeys
	surfaces                         surfaceTexts
	written                          map[string]writtenSource // committed sources of the network, by their files
	unwritten                        []writtenSource          // since the last commit
}

const (
	timePerCommit  = 2 * time.Second        // longest wait of other writers
	heldMost       = time.Second            // in total, between two turns of other writers
	othersTurn     = 250 * time.Millisecond // SQLite retries at least every 100 ms
	bytesPerCommit = 64 << 20               // a change is kept in memory until its commit
)

// BeginSurvey starts a batch. Nothing is locked before the first Save.
func (c *Catalog) BeginSurvey(o SaveOptions) *Survey {
	s := &Survey{c: c, o: o, planner: planner{reserved: map[string]bool{}}, scratch: gpkg.NewScratch()}
	s.forget()
	return s
}

// forget drops cached keys of rows that a rollback may have removed.
func (s *Survey) forget() {
	s.classes, s.origins, s.networks, s.extent, s.last = map[string]int64{}, map[string]int64{}, map[string]int64{}, gpkg.EmptyEnvelope(), nil
	s.lastOrigin = 0
	s.steepExtent = gpkg.EmptyEnvelope()
	s.lastDescent, s.lastRoute, s.lastPart = 0, 0, 0
	if !s.o.DryRun {
		s.planner.reserved = map[string]bool{}
	}
}

// Committed is the number of routes that are safely in the file.
func (s *Survey) Committed() int { return s.committed }

// Save adds one route to the batch. A route that is refused does not affect the others
// of the batch; after a fault of the file the routes since the last commit are not
// saved (see Committed).
func (s *Survey) Save(ctx context.Context, rs RouteSurvey) (Changes, error) {
	return s.SavePacked(ctx, rs, nil)
}

// SavePacked is Save for a survey whose entries were packed before and not changed since;
// nil packs them now.
func (s *Survey) SavePacked(ctx context.Context, rs RouteSurvey, ready *Packed) (Changes, error) {
	if err := ctx.Err(); err != nil {
		return Changes{}, err
	}
	if ready == nil { // else Pack checked it
		if err := checkSurvey(&rs); err != nil {
			return Changes{}, err
		}
	}
	at := s.c.file.NowStamp()
	if s.o.DryRun {
		var ch Changes
		err := s.c.file.Read(ctx, func(q gpkg.Querier) error {
			s.planner.q = q
			p, err := s.planner.planOf(&rs, nil, s.o, at)
			if err == nil {
				ch = p.Changes
			}
			return err
		})
		return ch, err
	}
	if err := s.begin(ctx); err != nil {
		return Changes{}, err
	}
	ch, err := s.saveOne(&rs, ready, at)
	if err != nil {
		return Changes{}, s.c.file.Fault(err, fmt.Sprintf("saving route %q", rs.Route.ID))
	}
	full := s.o.RoutesPerCommit > 0 && s.routes >= s.o.RoutesPerCommit || s.bytes >= bytesPerCommit
	if full || time.Since(s.since) >= timePerCommit {
		return ch, s.commit()
	}
	return ch, nil
}

// begin opens a transaction where none is open.
func (s *Survey) begin(ctx context.Context) error {
	if s.open {
		return nil
	}
	free := time.Since(s.released)
	pause := othersPause(s.held, free)
	time.Sleep(pause)
	if free+pause >= othersTurn {
		s.held = 0
	}
	if err := s.c.file.Begin(ctx); err != nil {
		return err
	}
	s.open, s.since, s.texts.isCurrent = true, time.Now(), false
	s.c.batch.Store(s)
	return nil
}

// othersPause is how long the lock stays free, so that other writers have a turn, if it was held in
// turns for that long and has been free since.
func othersPause(held, free time.Duration) time.Duration {
	if held < heldMost {
		return 0
	}
	return max(0, othersTurn-free)
}

// saveOne saves a route. Everything that can be refused is checked before the first row is written.
// So no savepoint is needed, which would copy every page that the route touches.
func (s *Survey) saveOne(rs *RouteSurvey, ready *Packed, at string) (Changes, error) {
	s.planner.q = s.c.file
	p, err := s.planner.planOf(rs, nil, s.o, at)
	if err == nil {
		err = p.pack(ready)
	}
	if err != nil {
		s.planner.reserved = map[string]bool{}
		return Changes{}, err
	}
	if err := s.apply(p, at); err != nil {
		return Changes{}, s.fail(err)
	}
	s.routes++
	return p.Changes, nil
}

// fail rolls the transaction back.
func (s *Survey) fail(err error) error {
	if s.open {
		s.c.file.Rollback()
		s.release()
	}
	s.routes, s.bytes, s.texts, s.unwritten = 0, 0, textKeys{}, nil
	s.forget()
	return err
}

func (s *Survey) release() {
	s.released = time.Now()
	s.held += s.released.Sub(s.since)
	s.open = false
	s.c.batch.Store(nil)
}

func (s *Survey) commit() error {
	if !s.open {
		return nil
	}
	if err := s.finish(); err != nil {
		return s.c.file.Fault(s.fail(err), "committing")
	}
	err := s.c.file.Commit(context.Background()) // surveyed routes are kept, however long other programs read
	s.release()
	if err == nil {
		s.committed += s.routes
		s.keepWritten()
	}
	s.routes, s.bytes = 0, 0
	s.forget()
	return err
}

// finish updates the GeoPackage's own tables for the batch.
func (s *Survey) finish() error {
	for layer, extent := range map[string]gpkg.Envelope{"descents": s.extent, "steep_parts": s.steepExtent} {
		if extent.IsEmpty() {
			continue
		}
		if err := s.c.file.WidenExtent(layer, extent); err != nil {
			return err
		}
	}
	if err := s.c.file.Touch("descents", "holds", "routes", "tangents", "sources", "reviews", "history", "profiles", "provenance", "classes", "proposals", "network_sources", "network_roads", "network_parts", "advice", "texts", "steep_parts"); err != nil {
		return err
	}
	if s.last == nil {
		return nil
	}
	return s.c.file.DescribeFile(s.last)
}

// Commit writes everything saved so far to disk.
func (s *Survey) Commit() error { return s.commit() }

// Close commits the rest.
func (s *Survey) Close() error { return s.commit() }

// Abort drops the routes since the last commit.
func (s *Survey) Abort() error { return s.fail(nil) }
