// Package survey is the pipeline: routes in, entries out. It samples the
// terrain along each route, recovers the grade line, finds the descents in both
// directions of travel and takes advice for every weight class.
package survey

import (
	"context"
	"fmt"
	"iter"
	"math"
	"runtime"
	"sync"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/routes/grade"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// Options say how a survey is done.
type Options struct {
	Classes      []vehicle.Class
	MassKg       float64       // 0: the upper end of each class
	Units        catalog.Units // whole mph or whole km/h in the advice
	Descent      descent.Options
	SurfaceModel bool
	AccuracyM    float64 // stated vertical accuracy of the terrain; 0 = from the cell size
	Workers      int     // routes at once; 0 = GOMAXPROCS, at most 2
	// Known, if set, tells which routes need no work: their results have Known set
	// and nothing but Route. It is called by one goroutine, in the order of the routes.
	Known func(*routes.Route) bool
	// Provenance is copied into every entry; CellM, NoiseM and RouteFile are filled in here.
	Provenance catalog.Provenance
}

// Result is what one route gave. Err is set, and the rest but Route empty, when
// the route could not be surveyed at all.
type Result struct {
	Route    routes.Route
	Profile  *routes.Profile
	Entries  []catalog.Entry // forward first, each in travel order
	Near     []routes.Descent
	Skipped  []routes.Skipped // advice that could not be given
	Stations int
	Known    bool // Options.Known said so
	Err      error
}

// Run surveys the routes as they come and hands each result to sink, in the
// order of the routes whatever the number of workers. At most a few routes for
// each worker are in memory at once. It stops at the first error of the routes
// or of sink, or when ctx ends; a route's own failure is a result, not an end.
func Run(ctx context.Context, surface terrain.Surface, list iter.Seq2[routes.Route, error], o Options, sink func(Result) error) error {
	workers := o.Workers
	if workers <= 0 {
		workers = min(2, runtime.GOMAXPROCS(0))
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)

	// Each route has its own answer channel; the queue of them bounds what is in flight.
	type job struct {
		route routes.Route
		done  chan Result
	}
	jobs := make(chan *job)
	order := make(chan *job, 2*workers)
	var running sync.WaitGroup
	running.Add(workers + 1)
	go func() {
		defer running.Done()
		defer close(order)
		defer close(jobs)
		for r, err := range list {
			if err != nil {
				cancel(err)
				return
			}
			j := &job{r, make(chan Result, 1)}
			select {
			case order <- j:
			case <-ctx.Done():
				return
			}
			if o.Known != nil && o.Known(&j.route) {
				j.done <- Result{Route: j.route, Known: true}
				continue
			}
			select {
			case jobs <- j:
			case <-ctx.Done():
				return
			}
		}
	}()
	for range workers {
		go func() {
			defer running.Done()
			for j := range jobs {
				j.done <- One(ctx, surface, &j.route, o)
			}
		}()
	}
	defer running.Wait() // nobody reads the surface after Run
	defer cancel(nil)
	for j := range order {
		select {
		case r := <-j.done:
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			if err := sink(r); err != nil {
				return err
			}
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	return nil
}

// One surveys a single route.
func One(ctx context.Context, surface terrain.Surface, r *routes.Route, o Options) Result {
	res := Result{Route: *r}
	ground, err := stationing.Sample(ctx, surface, r, stationing.Options{HalfWidthM: -1, SurfaceModel: o.SurfaceModel})
	if err != nil {
		res.Err = err
		return res
	}
	res.Stations = ground.Count()
	p, err := grade.Recover(ctx, ground, grade.Options{SurfaceModel: o.SurfaceModel, AccuracyM: o.AccuracyM})
	if err != nil {
		res.Err = placed(err, r)
		return res
	}
	res.Profile = p
	for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		for _, d := range descent.Find(p, dir, o.Descent) {
			res.Entries = append(res.Entries, res.entry(p, r, d, o))
		}
		for _, d := range descent.FindNear(p, dir, o.Descent) {
			d.Route = r.ID
			res.Near = append(res.Near, d)
		}
	}
	return res
}

// placed adds the route to an error that has no place of its own.
func placed(err error, r *routes.Route) error {
	return &routes.Fault{File: r.Place.File, Feature: fmt.Sprintf("route %q", r.ID), What: err.Error(), Err: nil, Kind: err}
}

// entry is a descent with its line and its holds. A class that cannot be
// advised has no hold there, and Skipped says why.
func (res *Result) entry(p *routes.Profile, r *routes.Route, d routes.Descent, o Options) catalog.Entry {
	d.Route = r.ID
	d.Name = name(r, &d)
	if r.OneWay && d.Direction != r.OneWayDir {
		d.Flags = append(d.Flags, routes.FlagAgainstOneWay)
	}
	e := catalog.Entry{Descent: d, Line: line(p, &d), Provenance: o.Provenance,
		Review: catalog.Review{State: catalog.Surveyed}}
	e.Provenance.CellM, e.Provenance.NoiseM, e.Provenance.RouteFile = p.CellM, p.Noise.SigmaM, r.Place.File
	hill := holding.HillFromDescent(p, &d, r.Limits)
	for _, c := range o.Classes {
		h, err := holding.Advise(hill, c, holding.Options{MassKg: o.MassKg, Units: o.Units})
		if err != nil {
			res.Skipped = append(res.Skipped, routes.Skipped{
				Where: fmt.Sprintf("%s, %s descent from station %.0f m, class %s", r.ID, d.Direction, d.StartM, c.ID),
				Why:   "no advice: " + err.Error()})
			continue
		}
		e.Holds = append(e.Holds, h)
	}
	return e
}

// name is the route's name with the compass direction from crest to foot.
func name(r *routes.Route, d *routes.Descent) string {
	base := r.Name
	if base == "" {
		base = r.Ref
	}
	if base == "" {
		base = r.ID
	}
	dx := math.Mod(d.FootLonDeg-d.CrestLonDeg+540, 360) - 180
	dx *= math.Cos((d.FootLatDeg + d.CrestLatDeg) / 2 * math.Pi / 180)
	dy := d.FootLatDeg - d.CrestLatDeg
	way := "north"
	switch {
	case math.Abs(dx) >= math.Abs(dy) && dx >= 0:
		way = "east"
	case math.Abs(dx) >= math.Abs(dy):
		way = "west"
	case dy < 0:
		way = "south"
	}
	return fmt.Sprintf("%s, %sbound", base, way)
}

// line is the descent's line from crest to foot with heights and stations, a
// vertex at each station of the profile.
func line(p *routes.Profile, d *routes.Descent) []catalog.Vertex {
	lo, hi := math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
	add := func(list []catalog.Vertex, stationM float64) []catalog.Vertex {
		pt := p.PointAt(stationM)
		return append(list, catalog.Vertex{LonDeg: pt[0], LatDeg: pt[1], ElevationM: p.ElevationAtM(stationM), StationM: stationM})
	}
	vs := add(nil, lo)
	// Ten-metre stations draw any road; denser ones only fatten the file.
	every := max(1, int(10/p.StepM))
	for i := int(p.IndexFromStationM(lo)) + 1; p.StationM(i) < hi-0.5; i += every {
		if p.StationM(i) > lo+0.5 {
			vs = add(vs, p.StationM(i))
		}
	}
	vs = add(vs, hi)
	if d.Direction == routes.Backward {
		for i, j := 0, len(vs)-1; i < j; i, j = i+1, j-1 {
			vs[i], vs[j] = vs[j], vs[i]
		}
	}
	return vs
}
