package main

import (
	"encoding/json"
	"fmt"
	"os"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/export"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// surveyOut takes the results of a survey as they come: into the catalogue,
// the profile file and the answer.
type surveyOut struct {
	s        *session
	c        *cli.Context
	cat      *store.Catalog
	batch    *store.Survey
	csv      *profileCSV
	classes  []store.ClassUsed
	surface  *raster.Surface
	sources  []terrain.Source
	answer   surveyAnswer
	entries  []catalog.Entry
	failed   error
	progress *progress
	waiting  []string // what a person must decide
	overlap  overlap
}

func (s *session) newSurveyOut(c *cli.Context, classes []vehicle.Class, surface *raster.Surface) (*surveyOut, error) {
	out := &surveyOut{s: s, c: c, classes: classesUsed(classes), surface: surface, sources: surface.Sources(), progress: s.newProgress("surveying, routes done")}
	out.answer = surveyAnswer{Schema: catalog.Schema, Routes: []routeAnswer{}, Descents: []descentAnswer{},
		Skipped: []routes.Skipped{}, Changes: []store.Changes{}, Warnings: []string{}, Cautions: catalog.Cautions()}
	out.overlap.paths, _ = inputs(c)
	var err error
	if out.overlap.opts, err = rasterOptions(c); err != nil {
		return nil, err
	}
	path, dry := c.String("catalog"), c.Bool("dry-run")
	// A catalogue that is there is looked at before any work; a new one is made
	// when there is something to put in.
	if _, err := os.Stat(path); err == nil {
		if err := out.open(); err != nil {
			return nil, err
		}
	}
	if file := c.String("profile"); file != "" && !dry {
		if err := notAnInput(c, file); err != nil {
			out.abandon()
			return nil, err
		}
		csv, err := newProfileCSV(file, c.Bool("force"))
		if err != nil {
			out.abandon()
			return nil, err
		}
		out.csv = csv
	}
	return out, nil
}

// open opens or makes the catalogue.
func (o *surveyOut) open() error {
	path, dry := o.c.String("catalog"), o.c.Bool("dry-run")
	cat, err := store.Open(o.c.Context, path, store.Options{Create: !dry, ReadOnly: dry, Tool: "gradeline " + version})
	if err != nil {
		return err
	}
	o.cat = cat
	o.batch = cat.BeginSurvey(store.SaveOptions{DryRun: dry, By: o.c.String("by"), AcceptMoves: o.c.Bool("accept-moves"), RoutesPerCommit: 25})
	o.answer.Catalog = path
	return nil
}

// take is the sink of survey.Run.
func (o *surveyOut) take(r survey.Result) error {
	if r.Err != nil {
		if o.failed == nil {
			o.failed = r.Err
		}
		o.answer.Skipped = append(o.answer.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, route %q", r.Route.Place, r.Route.ID), Why: oneLine(r.Err.Error())})
		return nil
	}
	if o.batch == nil && !o.c.Bool("dry-run") {
		if err := o.open(); err != nil {
			return err
		}
	}
	if o.batch != nil {
		ch, err := o.batch.Save(o.c.Context, store.RouteSurvey{
			Route: store.Route{ID: r.Route.ID, Name: r.Route.Name, Ref: r.Route.Ref, LengthM: r.Profile.LengthM, Stations: r.Stations,
				MissingM: r.Profile.MissingM, Reliable: r.Profile.Reliable, Unreliable: r.Profile.Unreliable, LineSHA256: store.LineSHA256(r.Route.Line)},
			Entries: r.Entries, Profile: r.Profile, Sources: o.sources, ClassesUsed: o.classes,
		})
		if err != nil {
			return err
		}
		for i, id := range ch.Descents {
			r.Entries[i].Descent.ID = id
		}
		if o.c.Bool("json") {
			o.answer.Changes = append(o.answer.Changes, ch)
		}
		o.waiting = append(o.waiting, waitingFor(&ch)...)
	}
	for i := range r.Entries {
		d := &r.Entries[i].Descent
		if d.ID == "" { // no catalogue gave one
			d.ID = fmt.Sprintf("%s-%s-%.0f", r.Route.ID, d.Direction, d.StartM)
		}
		if o.c.Bool("json") {
			o.answer.Descents = append(o.answer.Descents, descentAnswer{*d, r.Entries[i].Holds})
		} else {
			o.entries = append(o.entries, forTable(&r.Entries[i]))
		}
	}
	o.answer.Skipped = append(o.answer.Skipped, r.Skipped...)
	o.answer.Routes = append(o.answer.Routes, describe(&r))
	o.overlap.add(r.Profile)
	if o.csv != nil {
		if err := o.csv.write(r.Route.ID, r.Profile); err != nil {
			return err
		}
	}
	o.progress.step(len(o.answer.Routes))
	return nil
}

// finish commits what is left and puts the profile file in place.
func (o *surveyOut) finish() error {
	o.progress.end()
	if len(o.answer.Routes) == 0 && o.failed != nil {
		return o.failed
	}
	if o.batch != nil {
		if err := o.batch.Close(); err != nil {
			return err
		}
		o.batch = nil
	}
	if o.csv != nil {
		if err := o.csv.close(); err != nil {
			return err
		}
		o.csv = nil
	}
	o.answer.Warnings = append(o.answer.Warnings, o.surface.Warnings()...)
	steps, err := o.overlap.steps(o.c.Context)
	if err != nil { // the routes are in the catalogue already; this is a gap in what is known of them
		steps = append(steps, "the rasters could not be compared with each other: "+oneLine(err.Error()))
	}
	o.answer.Warnings = append(o.answer.Warnings, steps...)
	o.waiting = append(o.waiting, steps...)
	return nil
}

// keepWhole commits the whole routes of a survey that was cut short.
func (o *surveyOut) keepWhole() {
	o.progress.end()
	if o.batch != nil {
		if err := o.batch.Close(); err != nil {
			o.s.say("gradeline: %v", err)
		}
		o.batch = nil
	}
}

// abandon releases what is still open.
func (o *surveyOut) abandon() {
	if o.batch != nil {
		_ = o.batch.Abort() // nothing of it is wanted
	}
	if o.csv != nil {
		o.csv.remove()
	}
	if o.cat != nil {
		_ = o.cat.Close() // committed already, or given up
	}
}

func (o *surveyOut) print(u catalog.Units) error {
	gaps := append(o.answer.gaps(), o.waiting...)
	if o.c.Bool("json") {
		if err := o.s.printJSON(o.answer); err != nil {
			return err
		}
	} else {
		sortByDanger(o.entries)
		if err := export.WriteText(o.s.out, listTable(o.entries, u)); err != nil {
			return err
		}
		if o.answer.Catalog != "" && !o.c.Bool("dry-run") {
			fmt.Fprintf(o.s.out, "\nStored in %s: gradeline list --catalog %s, gradeline show --catalog %s DESCENT.\n", o.answer.Catalog, o.answer.Catalog, o.answer.Catalog)
		}
	}
	for _, w := range o.answer.Warnings {
		o.s.say("warning: %s", w)
	}
	for _, g := range gaps {
		o.s.say("gap: %s", g)
	}
	if len(gaps) > 0 {
		return errGaps
	}
	return nil
}

func mustJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "{}" // views hold only numbers and text
	}
	return string(b)
}
