package store

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// A stretch that can't be relied on marks its route, the descents and steep parts that reach it and
// their reviews; nothing else changes, the check sums hold, and saying it again changes nothing.
func TestMarkUnreliable(t *testing.T) {
	c, path := fresh(t)
	rs := survey("Kestrel Road", 2) // descents from 1 to 5 km and from 11 to 15 km
	possibleM := 0.0
	rs.SteepParts, rs.PossibleSteepM = []catalog.SteepPart{pitch("Kestrel Road", 6, 6.2, routes.Forward), pitch("Kestrel Road", 20, 6.2, routes.Backward)}, &possibleM
	save(t, c, rs, SaveOptions{})
	save(t, c, survey("Heron Pass", 1), SaveOptions{})
	if err := c.Review(ctx, "kestrel-road-f-1.0", catalog.Review{State: catalog.Approved, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	before := all(t, c)
	s := c.BeginSurvey(SaveOptions{By: "Bo"})
	for range 2 {
		ids, err := s.MarkUnreliable(ctx, "Kestrel Road", routes.Doubt{FromM: 4900, ToM: 6100, Why: "a road at the same node is 12 m lower"})
		if err != nil || !slices.Equal(ids, []string{"kestrel-road-f-1.0"}) {
			t.Fatalf("%v, %v", ids, err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	after := all(t, c)
	for id, e := range after {
		was := before[id]
		if id == "kestrel-road-f-1.0" {
			if !e.Descent.HasFlag(routes.FlagUnreliable) || !strings.Contains(e.Review.InQuestion, "12 m lower") || e.Review.State != catalog.Approved {
				t.Errorf("%s: flags %v, review %+v", id, e.Descent.Flags, e.Review)
			}
			e.Descent.Flags, e.Review = was.Descent.Flags, was.Review
		}
		if !reflect.DeepEqual(e, was) {
			t.Errorf("%s changed", id)
		}
	}
	for _, p := range partsOf(t, c, Filter{}).Parts {
		if p.HasFlag(routes.FlagUnreliable) != (p.StartM == 6000) {
			t.Errorf("steep part at %v: flags %v", p.StartM, p.Flags)
		}
	}
	rs2, err := c.Routes(ctx)
	if err != nil || rs2[1].Reliable || strings.Count(rs2[1].Unreliable, "12 m lower") != 1 || !rs2[0].Reliable {
		t.Errorf("%+v, %v", rs2, err)
	}
	h, err := c.History(ctx, "kestrel-road-f-1.0")
	if err != nil || len(h) == 0 || h[len(h)-1].What != "unreliable" {
		t.Errorf("history %+v, %v", h, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) != 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
	mustBeValid(t, path, "marking")
	save(t, c, rs, SaveOptions{}) // a newer survey without a contradiction
	if e := all(t, c)["kestrel-road-f-1.0"]; e.Descent.HasFlag(routes.FlagUnreliable) {
		t.Errorf("after a newer survey: %v", e.Descent.Flags)
	}
}

// A row that is damaged is not given a new check sum.
func TestMarkUnreliableKeepsDamage(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	c.Close()
	for k := 1; k <= 4; k++ {
		spoil(t, path, "DROP TRIGGER rtree_descents_geom_update"+string(rune('0'+k)))
	}
	spoil(t, path, "UPDATE descents SET drop_m = 1")
	c = open(t, path)
	s := c.BeginSurvey(SaveOptions{})
	if _, err := s.MarkUnreliable(ctx, "Kestrel Road", routes.Doubt{FromM: 0, ToM: 50000, Why: "x"}); err == nil || !strings.Contains(err.Error(), "check sum") {
		t.Errorf("%v", err)
	}
}
