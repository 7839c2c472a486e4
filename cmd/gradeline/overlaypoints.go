package main

import (
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
)

// signsOverlay writes the scheduled signs as points.
func (s *session) signsOverlay(c *cli.Context) error {
	rules, err := signRules(c.String("rules"))
	if err != nil {
		return err
	}
	approachMPS, _, err := quantityFlag(c, "approach", catalog.SpeedMPS)
	if err != nil {
		return err
	}
	cat, es, err := chosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	var a signsAnswer
	o := overlay.PlacesOptions{Kind: "signs", Cautions: []string{catalog.SignCaution}, Notes: []string{rules.Title + ": " + rules.Edition}}
	for i := range es {
		if err := s.planSigns(c, cat, &es[i], signPlan{rules: rules, approachMPS: approachMPS}, &a); err != nil {
			return err
		}
	}
	o.Provenance = a.provenance
	return s.toOutput(c, func(w io.Writer) error { return overlay.PlacesOverlay(w, signPlaces(a.Schedules), o) })
}

// signPlaces gives each scheduled sign an id of its own.
func signPlaces(list []signs.Schedule) []overlay.Place {
	var out []overlay.Place
	for i := range list {
		for k, f := range list[i].Features() {
			out = append(out, overlay.Place{ID: fmt.Sprintf("%s/%d", list[i].DescentID, k+1), LonDeg: f.LonDeg, LatDeg: f.LatDeg, Properties: f.Properties})
		}
	}
	return out
}

// sitesOverlay writes the sites of the catalogue.
func (s *session) sitesOverlay(c *cli.Context) error {
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	sites, err := cat.Sites(c.Context, store.SiteFilter{Route: c.String("route")})
	if err != nil {
		return err
	}
	es, err := cat.Descents(c.Context, store.Filter{Limit: 1, Brief: true})
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error {
		return overlay.SitesOverlay(w, sites, len(es) > 0 && es[0].Provenance.Invented)
	})
}

// practiceOverlay writes the crest of each practice grade, with its difficulty.
func (s *session) practiceOverlay(c *cli.Context) error {
	a, err := ladder(c)
	if err != nil {
		return err
	}
	return s.toOutput(c, a.WriteOverlay)
}
