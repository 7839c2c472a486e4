package survey

import (
	"context"
	"fmt"
	"iter"
	"sync"

	"golang.org/x/sync/semaphore"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/grade"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// Options set how routes are surveyed.
type Options struct {
	Classes      []vehicle.Class
	MassKg       float64          // 0: the upper end of each class
	Weather      *catalog.Weather // that the advice is for; nil: holding.UsualWeather
	Units        catalog.Units    // advice is rounded down to 1 mph or 1 km/h
	Descent      descent.Options
	SurfaceModel bool    // the heights include trees and roofs
	AccuracyM    float64 // stated vertical accuracy of the terrain, one standard deviation; 0 = from the cell size
	Drives       *Drives // recorded drives whose heights improve the grade lines; nil: none
	Workers      int     // routes at once; 0 = GOMAXPROCS, or fewer where MemoryBytes asks for it
	MemoryBytes  int64   // limit of the whole program's memory; 0 = none
	// Provenance is copied into every entry; CellM, NoiseM and RouteFile are filled in here.
	Provenance catalog.Provenance

	// GradeLine returns a route's grade line that was recovered before, for example on another
	// machine, in place of RecoverLine. It is called by several workers at once; nil: none was.
	GradeLine func(context.Context, *routes.Route) (GradeLine, error)
	// OnAhead is called for each line over several roads: whether GradeLine gave what it shows. By
	// several workers at once; may be nil.
	OnAhead func(isKnown bool)

	forwardOnly bool                // for ways, which are driven along their lines only
	roads       *Roads              // where descents continue; nil: nowhere
	meetings    *meetings           // heights of a network's nodes
	meet        meetFunc            // leads a recovered grade line through them; nil: none are known
	cacheBytes  int64               // of the terrain's decoded blocks
	classMarks  []string            // of Classes; nil: made when needed
	fleet       *holding.Fleet      // of one worker; nil: made when needed
	prepare     func(*Result) error // what a worker makes of a surveyed route for those who write it; may be nil

	ahead, noted map[string]OnwardLine // lines over several roads, by key: known; to be noted; nil: none
}

// Result is the result of one route. Err is set, and the rest but Route empty, when
// the route could not be surveyed at all.
type Result struct {
	Route   routes.Route
	Profile *routes.Profile
	Entries []catalog.Entry // forward first, each in travel order
	Near    []routes.Descent
	// SteepParts are outside any descent, forward first, each in travel order.
	// PossibleSteepM is the length of road that may be as steep within its bound.
	SteepParts     []catalog.SteepPart
	PossibleSteepM float64
	Drives         []DriveUse
	Skipped        []routes.Skipped // advice that could not be worked out
	Stations       int
	Err            error

	network uint64         // as in its task
	masks   []store.Mask   // of a road of a network
	earlier *finishedRoute // of a route that was not surveyed again
	ahead   map[string]OnwardLine

	prepared *prepared // nil where Err is set
}

// Results surveys the routes as they arrive and yields a result for each, in the order
// of the routes for any number of workers. The routes in memory at once are limited by their
// length, see Options.MemoryBytes. The first error of the routes, or the end of ctx, is the last value;
// the failure of a route is in its result and does not stop the others. When the range
// has ended, the surface is no longer read.
func Results(ctx context.Context, surface terrain.Surface, list iter.Seq2[routes.Route, error], o Options) iter.Seq2[Result, error] {
	return results(ctx, surface, func(yield func(task, error) bool) {
		for r, err := range list {
			if !yield(task{route: r}, err) {
				return
			}
		}
	}, o)
}

// meetFunc returns the grade line of a road as it is after meeting others.
type meetFunc func(context.Context, *routes.Profile, *routes.Route) *routes.Profile

// task is a route to survey, or one that an earlier run has finished.
type task struct {
	route   routes.Route
	network uint64 // mark of the network in which its hills may continue, as it was when the route was read; 0: none
	earlier *finishedRoute
}

// queued is a task whose result is pending.
type queued struct {
	task
	done   chan Result
	weight int64 // of its memory
	turn   *turn // of a road of a network; nil for others
}

// waitingRoutes is how many routes for each worker may be in work or wait for an earlier one, if
// their length allows it: neither a long road nor a pause of the one who writes must stop the others.
const waitingRoutes = 64

func results(ctx context.Context, surface terrain.Surface, tasks iter.Seq2[task, error], o Options) iter.Seq2[Result, error] {
	return func(yield func(Result, error) bool) {
		memory, err := shareOf(o.MemoryBytes, o.cacheBytes, o.Workers)
		if err != nil {
			yield(Result{}, err)
			return
		}
		workers, room := memory.workers, semaphore.NewWeighted(memory.windowBytes)
		ctx, cancel := context.WithCancelCause(ctx)
		// Each task has its own answer channel; the queue of them bounds what is in flight.
		work, order := make(chan *queued), make(chan *queued, waitingRoutes*workers)
		var running sync.WaitGroup
		defer running.Wait()
		defer cancel(nil)
		running.Add(workers + 1)
		go func() {
			defer running.Done()
			defer close(order)
			defer close(work)
			if err := enqueue(ctx, tasks, work, order, room, &memory); err != nil {
				cancel(err)
			}
		}()
		o.meetings, o.classMarks = &meetings{}, classMarks(o.Classes, o.Weather)
		for range workers {
			go func() {
				defer running.Done()
				o := o
				o.fleet = holding.NewFleet(o.Classes)
				for q := range work {
					r := q.survey(ctx, surface, o)
					kept := min(q.weight, resultBytesOf(&q.route))
					room.Release(q.weight - kept)
					q.weight = kept
					q.done <- r
				}
			}()
		}
		for q := range order {
			select {
			case r := <-q.done:
				if ctx.Err() != nil {
					yield(Result{}, context.Cause(ctx))
					return
				}
				if !yield(r, nil) {
					return
				}
				room.Release(q.weight)
			case <-ctx.Done():
				yield(Result{}, context.Cause(ctx))
				return
			}
		}
		if ctx.Err() != nil {
			yield(Result{}, context.Cause(ctx))
		}
	}
}

// enqueue hands the tasks to free workers. Tasks that are already finished keep their place in the
// order.
func enqueue(ctx context.Context, tasks iter.Seq2[task, error], work, order chan<- *queued, room *semaphore.Weighted, memory *share) error {
	var last *turn
	for t, err := range tasks {
		if err != nil {
			return err
		}
		q := &queued{task: t, done: make(chan Result, 1), weight: memory.weight(&t.route)}
		if t.network != 0 {
			q.turn = afterTurn(last)
			last = q.turn
		}
		if room.Acquire(ctx, q.weight) != nil {
			return nil
		}
		select {
		case order <- q:
		case <-ctx.Done():
			return nil
		}
		select {
		case work <- q:
		case <-ctx.Done():
			return nil
		}
	}
	return nil
}

// survey surveys the task, or takes up what an earlier run has finished of it.
func (q *queued) survey(ctx context.Context, surface terrain.Surface, o Options) Result {
	if q.turn != nil {
		isEnded := false
		end := func() {
			if !isEnded {
				isEnded = true
				q.turn.end()
			}
		}
		defer func() { // also of a road without a grade line
			if q.turn.wait(ctx) {
				end()
			}
		}()
		o.meet = func(ctx context.Context, p *routes.Profile, r *routes.Route) *routes.Profile {
			if !q.turn.wait(ctx) {
				return p
			}
			places := o.roads.nodesOf(r, p.LengthM)
			p = o.meetings.lead(p, q.turn.order, places)
			o.meetings.add(q.turn.order, nodeHeights(p, places))
			end()
			return p
		}
		if q.earlier != nil && q.turn.wait(ctx) {
			o.meetings.add(q.turn.order, q.earlier.nodes)
		}
	}
	if q.earlier != nil {
		return Result{Route: q.route, earlier: q.earlier}
	}
	r := One(ctx, surface, &q.route, o)
	if r.network = q.network; r.network != 0 { // otherwise the network may still be read
		r.masks = masksOf(&r, &o)
		if surface != nil {
			o.meet = nil // a line over several roads knows their nodes better: they lie in its middle
			over := o
			over.ahead = r.ahead
			goOn(ctx, surface, &r, o, over)
		}
	}
	if r.Err == nil && o.prepare != nil {
		r.Err = o.prepare(&r)
	}
	return r
}

// One surveys a single route; from drives alone where surface is nil.
func One(ctx context.Context, surface terrain.Surface, r *routes.Route, o Options) Result {
	if surface == nil {
		return oneFromDrives(ctx, r, o)
	}
	res := Result{Route: *r}
	var line GradeLine
	if o.GradeLine != nil {
		line, res.Err = o.GradeLine(ctx, r)
	} else {
		line, res.Err = RecoverLine(ctx, surface, r, o)
	}
	res.Stations, res.ahead = line.Stations, line.Ahead
	if res.Err != nil {
		return res
	}
	p, err := line.Profile, error(nil)
	if p, res.Drives, err = o.Drives.fuse(ctx, p); err != nil {
		res.Err = placed(err, r)
		return res
	}
	if o.meet != nil {
		p = o.meet(ctx, p, r)
	}
	res.describe(p, r, o)
	return res
}

// GradeLine is the grade line of a route by the terrain alone. It depends on the terrain, on the
// route, and on the options SurfaceModel and AccuracyM.
type GradeLine struct {
	Profile  *routes.Profile
	Stations int // of the ground that was sampled

	Ahead map[string]OnwardLine // what Ahead.Lines gave of the route; nil: it was not asked
}

// RecoverLine samples the ground under a route and recovers its grade line: the part of One that
// reads terrain and takes longest.
func RecoverLine(ctx context.Context, surface terrain.Surface, r *routes.Route, o Options) (GradeLine, error) {
	ground, err := stationing.Sample(ctx, surface, r, stationing.Options{HalfWidthM: -1, SurfaceModel: o.SurfaceModel})
	if err != nil {
		return GradeLine{}, err
	}
	p, err := grade.Recover(ctx, ground, grade.Options{SurfaceModel: o.SurfaceModel, AccuracyM: o.AccuracyM})
	if err != nil {
		return GradeLine{Stations: ground.Count()}, placed(err, r)
	}
	return GradeLine{Profile: p, Stations: ground.Count()}, nil
}

// placed adds the route to an error without a place.
func placed(err error, r *routes.Route) error {
	return &routes.Fault{File: r.Place.File, Feature: fmt.Sprintf("route %q", r.ID), What: err.Error(), Err: nil, Kind: err}
}
