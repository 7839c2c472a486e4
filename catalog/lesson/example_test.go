package lesson_test

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/holding"
	"gradeline/catalog/lesson"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/catalog/vehicle"
)

// The lesson on one invented hill for one class, as a document that handout writes.
func ExampleDocument() {
	doc, err := invented("us-5axle")
	if err != nil {
		fmt.Println(err)
		return
	}
	pages, err := handout.PageCount(doc, "Letter")
	fmt.Println(len(doc.Blocks) > 0, pages >= 2 && pages <= 4, err)
	// Output: true true <nil>
}

func invented(class string) (handout.Document, error) {
	all, err := holding.DefaultClasses()
	if err != nil {
		return handout.Document{}, err
	}
	fleet, err := vehicle.Fleet(all, []string{class})
	if err != nil {
		return handout.Document{}, err
	}
	e, p := specimen.WithParts(), specimen.Profile()
	hill := holding.HillFromDescent(p, &e.Descent, nil)
	h, err := holding.Advise(hill, fleet[0], holding.Options{})
	if err != nil {
		return handout.Document{}, err
	}
	runs, err := holding.BrakeRuns(hill, fleet[0], holding.Options{MassKg: h.MassKg}, h.Gear, h.SpeedMPS)
	if err != nil {
		return handout.Document{}, err
	}
	e.Holds = []catalog.Hold{h}
	return lesson.Document(lesson.Input{Entry: e, Class: fleet[0], Runs: runs, Units: fleet[0].Units, View: plot.ViewFromProfile(p, &e, &h, math.Inf(1))})
}
