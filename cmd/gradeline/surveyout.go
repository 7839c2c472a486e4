package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// surveyOut takes the results of a survey as they come: into the catalogue, and into
// a working file from which the answer is written at the end. Memory does not grow
// with the number of routes.
type surveyOut struct {
	s        *session
	c        *cli.Context
	cat      *store.Catalog
	batch    *store.Survey
	classes  []store.ClassUsed
	surface  *raster.Surface
	sources  []terrain.Source
	head     spoolHead
	spool    *spool
	before   *unfinished
	worst    worst // for the table
	unread   []routes.Skipped
	failed   error
	progress *progress
	warned   map[string]bool
	warnings []string
	steps    []string // rasters that stand on different heights
	overlap  overlap

	routes, takenOver int
	finished          bool
}

func (s *session) newSurveyOut(c *cli.Context, classes []vehicle.Class, surface *raster.Surface, setup string, routeFiles []string) (*surveyOut, error) {
	out := &surveyOut{s: s, c: c, classes: classesUsed(classes), surface: surface, sources: surface.Sources(), progress: s.newProgress("surveying, routes done"),
		before: &unfinished{}, warned: map[string]bool{}}
	out.overlap.paths, _ = inputs(c)
	var err error
	if out.overlap.opts, err = rasterOptions(c); err != nil {
		return nil, err
	}
	out.head = spoolHead{Format: spoolFormat, Setup: setup, Files: absolute(routeFiles), Shard: c.String("shard"), At: startedAt()}
	// A catalogue that is there is looked at before any work; a new one is made when
	// there is something to put in, or at once for a part of a network.
	if _, missing := os.Stat(c.String("catalog")); missing == nil || c.String("shard") != "" && !c.Bool("dry-run") {
		err = out.open()
	}
	if err == nil && out.cat != nil && !c.Bool("dry-run") && !c.Bool("afresh") && setup != "" {
		out.before, err = openUnfinished(c.Context, out.cat, out.head)
	}
	if file := c.String("profile"); err == nil && file != "" && !c.Bool("dry-run") {
		if err = notAnInput(c, file); err == nil {
			err = profileCanBeWritten(file, c.Bool("force"))
		}
	}
	if err != nil {
		out.abandon()
		return nil, err
	}
	if n := len(out.before.found); n > 0 {
		out.head.At = out.before.at
		s.say("takes up the survey that began %s and was cut short: %d routes were finished with the same terrain, roads, classes and rules; --afresh surveys them again",
			out.head.At.Format("2006-01-02 15:04 MST"), n)
	}
	return out, nil
}

// open opens or makes the catalogue.
func (o *surveyOut) open() error {
	path, dry := o.c.String("catalog"), o.c.Bool("dry-run")
	cat, err := store.Open(o.c.Context, path, store.Options{Create: !dry, ReadOnly: dry, Tool: "gradeline " + version, BusyTimeout: 10 * time.Minute,
		Waiting: o.s.tellWaiting(o.progress.end)})
	if err != nil {
		return err
	}
	o.cat = cat
	o.batch = cat.BeginSurvey(store.SaveOptions{DryRun: dry, By: o.c.String("by"), AcceptMoves: o.c.Bool("accept-moves"), RoutesPerCommit: 25})
	return nil
}

// known tells survey.Run which routes need no work.
func (o *surveyOut) known(r *routes.Route) bool {
	if len(o.before.found) == 0 {
		return false
	}
	_, ok := o.before.found[routeKey(o.head.Setup, r)]
	return ok
}

// put adds a record to the working file, which is made for the first.
func (o *surveyOut) put(r *record) error {
	if o.spool == nil {
		path := o.c.String("catalog")
		if o.c.Bool("dry-run") {
			path = ""
		}
		s, err := startSpool(path, o.head)
		if err != nil {
			return err
		}
		o.spool = s
	}
	return o.spool.append(r)
}

// take is the sink of survey.Run.
func (o *surveyOut) take(r survey.Result) error {
	if r.Known {
		return o.takeOver(&r.Route)
	}
	var rec record
	var m spoolMeta
	if r.Err != nil {
		if o.failed == nil {
			o.failed = r.Err
		}
		m.Failed = true
		r.Skipped = []routes.Skipped{{Where: fmt.Sprintf("%s, route %q", r.Route.Place, r.Route.ID), Why: oneLine(r.Err.Error())}}
	} else if err := o.save(&r, &m, &rec); err != nil {
		return err
	}
	if o.c.Bool("json") {
		rec[partSkipped] = members(r.Skipped)
	}
	m.SkipGaps = skipGaps(r.Skipped)
	for _, w := range o.surface.Warnings() {
		if !o.warned[w] {
			o.warned[w] = true
			m.Warnings = append(m.Warnings, w)
		}
	}
	rec[partMeta] = []byte(mustJSON(m))
	return o.count(&rec, &m)
}

// save puts a surveyed route into the catalogue and its answer into a record.
func (o *surveyOut) save(r *survey.Result, m *spoolMeta, rec *record) error {
	isJSON := o.c.Bool("json")
	if o.batch == nil && !o.c.Bool("dry-run") {
		if err := o.open(); err != nil {
			return err
		}
	}
	if o.batch != nil {
		isWhole, why := r.Profile.Whole()
		road := store.Route{ID: r.Route.ID, Name: r.Route.Name, Ref: r.Route.Ref, LengthM: r.Profile.LengthM, Stations: r.Stations,
			MissingM: r.Profile.MissingM, Reliable: isWhole, Unreliable: why, LineSHA256: store.LineSHA256(r.Route.Line)}
		ch, err := o.batch.Save(o.c.Context, store.RouteSurvey{Route: road, Entries: r.Entries, Profile: r.Profile, Sources: o.sources, ClassesUsed: o.classes})
		if err != nil {
			return err
		}
		for i, id := range ch.Descents {
			r.Entries[i].Descent.ID = id
		}
		if isJSON {
			rec[partChanges] = plainJSON(ch)
		}
		m.Waiting = waitingFor(&ch)
		if o.head.Setup != "" {
			m.Key, m.Route = routeKey(o.head.Setup, &r.Route), road.ID
			road.SurveyedAt = ch.At
			m.Sum.addRoute(&road)
		}
	}
	for i := range r.Entries {
		d := &r.Entries[i].Descent
		if d.ID == "" { // no catalogue gave one
			d.ID = fmt.Sprintf("%s-%s-%.0f", r.Route.ID, d.Direction, d.StartM)
		}
		if m.Key != "" {
			m.Sum.addDescent(d, r.Entries[i].Holds)
		}
		if isJSON {
			if i > 0 {
				rec[partDescents] = append(rec[partDescents], ',', '\n')
			}
			rec[partDescents] = append(rec[partDescents], plainJSON(descentAnswer{*d, r.Entries[i].Holds})...)
		} else {
			m.Rows = append(m.Rows, forTable(&r.Entries[i]))
		}
	}
	a := describe(r)
	m.Gaps = a.gaps()
	if isJSON {
		rec[partRoute] = plainJSON(a)
	}
	m.Places = o.overlap.places(r.Profile)
	if o.c.String("profile") != "" && !o.c.Bool("dry-run") {
		var rows bytes.Buffer
		if err := writeRows(&rows, r.Route.ID, r.Profile); err != nil {
			return err
		}
		rec[partProfile] = rows.Bytes()
	}
	return nil
}

// takeOver brings what an earlier run found into this one's working file.
func (o *surveyOut) takeOver(r *routes.Route) error {
	at := o.before.found[routeKey(o.head.Setup, r)]
	rec, err := at.file.read(at.off)
	if err != nil {
		return err
	}
	var m spoolMeta
	if err := json.Unmarshal(rec[partMeta], &m); err != nil {
		return spoolFault(at.file.path, err)
	}
	o.takenOver++
	for _, w := range m.Warnings {
		o.warned[w] = true
	}
	return o.count(rec, &m)
}

// count adds a route to what the answer says of all.
func (o *surveyOut) count(rec *record, m *spoolMeta) error {
	o.worst.add(m.Rows...)
	o.overlap.add(m.Places)
	if !m.Failed {
		o.routes++
	}
	o.progress.step(o.routes)
	return o.put(rec)
}
