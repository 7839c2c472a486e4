package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"gradeline/catalog"
)

// SaveRoute replaces what the catalogue holds of one route, in one transaction.
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

// Survey is a batch of routes being saved: many routes a transaction, each route
// whole. Until Close or Abort, other changes through the same Catalog may wait
// for it; other programs' changes wait for its commits. Not for concurrent use.
type Survey struct {
	c         *Catalog
	o         SaveOptions
	open      bool // a transaction is open and c.mu is held
	since     time.Time
	held      time.Duration // the file's lock, since others last had time to take it
	routes    int           // saved since the last commit
	bytes     int           // written since the last commit, roughly
	committed int
	planner   planner
	classes   map[string]int64 // class and fingerprint to key
	origins   map[string]int64 // provenance to key
	// The last keys given out; 0 when not known.
	lastDescent, lastRoute int64
	extent                 box // of what was written since the last commit
	last                   *catalog.Provenance
	geom                   []byte // kept between descents
	scratch                *scratch
}

const (
	timePerCommit  = 2 * time.Second        // other writers wait so long at most
	heldMost       = time.Second            // in sum, between two turns of others
	othersTurn     = 250 * time.Millisecond // SQLite asks again each 100 ms at the latest
	bytesPerCommit = 64 << 20               // a change is kept in memory until its commit
)

// BeginSurvey starts a batch. Nothing is locked before the first Save.
func (c *Catalog) BeginSurvey(o SaveOptions) *Survey {
	s := &Survey{c: c, o: o, planner: planner{reserved: map[string]bool{}}, scratch: newScratch()}
	s.forget()
	return s
}

// forget drops what is known of rows that a rollback may have taken away.
func (s *Survey) forget() {
	s.classes, s.origins, s.extent, s.last = map[string]int64{}, map[string]int64{}, emptyBox(), nil
	s.lastDescent, s.lastRoute = 0, 0
	if !s.o.DryRun {
		s.planner.reserved = map[string]bool{}
	}
}

// Committed is how many routes are safely in the file.
func (s *Survey) Committed() int { return s.committed }

// Save adds one route to the batch. A route that is refused leaves the others
// of the batch as they are; after a fault of the file the routes since the last
// commit are not saved (see Committed).
func (s *Survey) Save(ctx context.Context, rs RouteSurvey) (Changes, error) {
	if err := ctx.Err(); err != nil {
		return Changes{}, err
	}
	if err := rs.check(); err != nil {
		return Changes{}, err
	}
	at := s.c.now()
	if s.o.DryRun {
		var ch Changes
		err := s.c.read(ctx, func(q querier) error {
			s.planner.q = q
			p, err := s.planner.planOf(&rs, s.o, at)
			if err == nil {
				ch = p.changes
			}
			return err
		})
		return ch, err
	}
	if !s.open {
		if s.held >= heldMost {
			time.Sleep(othersTurn)
			s.held = 0
		}
		s.c.mu.Lock()
		if err := s.c.begin(ctx); err != nil {
			s.c.mu.Unlock()
			return Changes{}, err
		}
		s.open, s.since = true, time.Now()
		s.c.batch.Store(s)
	}
	ch, err := s.saveOne(&rs, at)
	if err != nil {
		return Changes{}, s.c.fault(err, fmt.Sprintf("saving route %q", rs.Route.ID))
	}
	full := s.o.RoutesPerCommit > 0 && s.routes >= s.o.RoutesPerCommit || s.bytes >= bytesPerCommit
	if full || time.Since(s.since) >= timePerCommit {
		return ch, s.commit()
	}
	return ch, nil
}

// saveOne saves a route. Everything that may be refused is known before the first
// row is written, so that a savepoint, which would copy every page that the route
// touches, is not needed.
func (s *Survey) saveOne(rs *RouteSurvey, at string) (Changes, error) {
	s.planner.q = s.c
	p, err := s.planner.planOf(rs, s.o, at)
	if err == nil {
		err = p.pack()
	}
	if err != nil {
		s.planner.reserved = map[string]bool{}
		return Changes{}, err
	}
	if err := s.apply(p, at); err != nil {
		return Changes{}, s.fail(err)
	}
	s.routes++
	return p.changes, nil
}

// fail gives the transaction up.
func (s *Survey) fail(err error) error {
	if s.open {
		s.c.rollback()
		s.release()
	}
	s.routes, s.bytes = 0, 0
	s.forget()
	return err
}

func (s *Survey) release() {
	s.held += time.Since(s.since)
	s.open = false
	s.c.batch.Store(nil)
	s.c.mu.Unlock()
}

func (s *Survey) commit() error {
	if !s.open {
		return nil
	}
	if err := s.finish(); err != nil {
		return s.c.fault(s.fail(err), "committing")
	}
	err := s.c.commit(context.Background()) // what is surveyed is kept, however long the others read
	s.release()
	if err == nil {
		s.committed += s.routes
	}
	s.routes, s.bytes = 0, 0
	s.forget()
	return err
}

// finish brings the GeoPackage's own tables up to date with the batch.
func (s *Survey) finish() error {
	at := s.c.now()
	if s.extent.minX <= s.extent.maxX {
		b := s.extent
		if err := s.c.widen("descents", b); err != nil {
			return err
		}
	}
	if _, err := s.c.exec("UPDATE gpkg_contents SET last_change = ? WHERE table_name IN ('descents','holds','routes','tangents','sources','reviews','history','profiles','provenance','classes','proposals')", at); err != nil {
		return err
	}
	if s.last == nil {
		return nil
	}
	if _, err := s.c.exec("UPDATE gpkg_metadata SET metadata = ? WHERE id = 1", metadata(s.c.opt.Tool, s.last)); err != nil {
		return err
	}
	_, err := s.c.exec("UPDATE gpkg_metadata_reference SET timestamp = ? WHERE md_file_id = 1", at)
	return err
}

// widen grows the extent that a GIS zooms to.
func (c *Catalog) widen(layer string, b box) error {
	_, err := c.exec("UPDATE gpkg_contents SET min_x = min(coalesce(min_x, ?1), ?1), max_x = max(coalesce(max_x, ?2), ?2), min_y = min(coalesce(min_y, ?3), ?3), max_y = max(coalesce(max_y, ?4), ?4), last_change = ?5 WHERE table_name = ?6",
		b.minX, b.maxX, b.minY, b.maxY, c.now(), layer)
	return err
}

// Commit makes everything saved so far safe.
func (s *Survey) Commit() error { return s.commit() }

// Close commits what is left.
func (s *Survey) Close() error { return s.commit() }

// Abort drops the routes since the last commit.
func (s *Survey) Abort() error { return s.fail(nil) }
