package answer

import (
	"context"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/holding"
	"gradeline/catalog/lesson"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// Lesson is a lesson for a class room about a truck's service brakes on one hill.
type Lesson struct {
	in  lesson.Input
	doc handout.Document
}

// NewLesson works out the lesson of a descent for a class, in its country's units unless
// others are given. It needs the stored grade line.
func NewLesson(ctx context.Context, cat *store.Catalog, e *catalog.Entry, class vehicle.Class, u *catalog.Units) (*Lesson, error) {
	_, h, why := wording.AnswerFor(e, class.ID)
	if why != "" || h == nil {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, Feature: e.Descent.ID, What: "no lesson for class " + class.ID + " without a sound answer: " + why, Fix: "survey the route again with this class"}
	}
	if stale := vehicle.WhyStale(h, []vehicle.Class{class}); stale != "" {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, Feature: e.Descent.ID, What: "no lesson for class " + class.ID + ": " + stale, Fix: "survey the route again with this class"}
	}
	line, err := cat.Profile(ctx, e.Descent.ID)
	if err != nil {
		return nil, err
	}
	runs, err := holding.BrakeRuns(holding.HillFromDescent(line, &e.Descent, nil), class, holding.Options{MassKg: h.MassKg, Weather: h.Weather}, h.Gear, h.SpeedMPS)
	if err != nil {
		return nil, err
	}
	a := &Lesson{in: lesson.Input{Entry: *e, Class: class, Runs: runs, Units: class.Units}}
	if u != nil {
		a.in.Units = *u
	}
	dir := e.Descent.Direction
	if a.in.Sites, err = cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Direction: &dir}); err != nil {
		return nil, err
	}
	if a.in.View, err = ViewOf(ctx, cat, e, h); err != nil {
		return nil, err
	}
	a.doc, err = lesson.Document(a.in)
	return a, err
}

// Write writes it as PDF where the file's name ends in .pdf, else as HTML.
func (a *Lesson) Write(w io.Writer, file, paper string) error {
	if strings.HasSuffix(strings.ToLower(file), ".pdf") {
		return handout.PDF(w, a.doc, paper, a.in.Entry.Provenance.At)
	}
	return handout.HTML(w, a.doc)
}
