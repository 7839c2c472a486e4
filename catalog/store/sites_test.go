package store

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

func TestSites(t *testing.T) {
	c, path := fresh(t)
	st := func(m float64) *float64 { return &m }
	in := []catalog.Site{
		{Kind: catalog.BrakeCheck, Name: "Top", Point: terrain.Point{LonDeg: -110.123456789, LatDeg: 40}, Route: "Kestrel Road", StationM: st(900.25), Side: "right", Direction: "forward", Note: "<b>", Source: "osm"},
		{Kind: catalog.EscapeRamp, Point: terrain.Point{LonDeg: -110, LatDeg: 40}, Route: "Kestrel Road", StationM: st(3200), Side: "left", Direction: "backward"},
		{Kind: catalog.SignStands, Point: terrain.Point{LonDeg: -109, LatDeg: 41}, Route: "Kestrel Road", StationM: st(950), Code: "W7-1", Legend: "8 %"},
		{Kind: catalog.Pullout, Name: "Somewhere", Point: terrain.Point{LonDeg: 10, LatDeg: -41}},
	}
	put, err := c.AddSites(ctx, in, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range put {
		want := in[i]
		want.ID = s.ID
		if s.ID == "" || !reflect.DeepEqual(s, want) {
			t.Errorf("%+v", s)
		}
	}
	got, err := c.Sites(ctx, SiteFilter{Route: "Kestrel Road"})
	if err != nil || !reflect.DeepEqual(got, []catalog.Site{put[0], put[2], put[1]}) {
		t.Errorf("by station: %+v %v", got, err)
	}
	fwd := routes.Forward
	for i, tc := range []struct {
		f    SiteFilter
		want int
	}{
		{SiteFilter{}, 4}, {SiteFilter{Kind: catalog.EscapeRamp}, 1}, {SiteFilter{Route: "Kestrel Road", Direction: &fwd}, 2},
		{SiteFilter{Route: "Kestrel Road", FromM: 920, ToM: 3200}, 2}, {SiteFilter{BBox: &Box{WestDeg: 0, SouthDeg: -50, EastDeg: 20, NorthDeg: 0}}, 1},
	} {
		if l, err := c.Sites(ctx, tc.f); err != nil || len(l) != tc.want {
			t.Errorf("%d: %d, %v", i, len(l), err)
		}
	}
	put[1].Name = "North ramp"
	if _, err := c.AddSites(ctx, put[1:2], "Ada"); err != nil {
		t.Fatal(err)
	}
	if l, _ := c.Sites(ctx, SiteFilter{Kind: catalog.EscapeRamp}); len(l) != 1 || l[0].Name != "North ramp" {
		t.Errorf("changed: %+v", l)
	}
	bad := in[0]
	for what, f := range map[string]func(s *catalog.Site){
		"kind": func(s *catalog.Site) { s.Kind = "bench" }, "place": func(s *catalog.Site) { s.Point.LatDeg = 91 }, "side": func(s *catalog.Site) { s.Side = "north" },
		"direction": func(s *catalog.Site) { s.Direction = "up" }, "station": func(s *catalog.Site) { s.StationM = &nan }, "id": func(s *catalog.Site) { s.ID = "--" },
	} {
		s := bad
		f(&s)
		if _, err := c.AddSites(ctx, []catalog.Site{in[3], s}, "Ada"); err == nil {
			t.Errorf("a wrong %s was taken", what)
		}
	}
	if l, _ := c.Sites(ctx, SiteFilter{}); len(l) != 4 {
		t.Errorf("a refused list left %d", len(l))
	}
	if err := c.RemoveSite(ctx, "nothing", "Ada", ""); !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("%v", err)
	}
	mustBeValid(t, path, "sites")
}

func TestQueueReasons(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 5)
	rs.Entries[1].Descent.Flags = []string{routes.FlagBorderline, routes.FlagUnreliable}
	rs.Entries[2].Descent.InterpolatedM = 900
	save(t, c, rs, SaveOptions{})
	at := func(id string, when time.Time, s catalog.ReviewState) {
		if err := c.Review(ctx, id, catalog.Review{State: s, By: "Ada", At: when}); err != nil {
			t.Fatal(err)
		}
	}
	at("kestrel-road-f-31.0", clock().AddDate(-3, 0, 0), catalog.Approved)
	at("kestrel-road-f-41.0", clock().AddDate(-3, 0, 0), catalog.Retired)
	at("kestrel-road-f-1.0", clock().AddDate(0, -1, 0), catalog.Approved)
	q, err := c.Queue(ctx)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, it := range q {
		got[it.ID] = strings.Join(it.Reasons, ",")
	}
	want := map[string]string{"kestrel-road-f-11.0": "new,borderline,unreliable", "kestrel-road-f-21.0": "new,interpolated", "kestrel-road-f-31.0": "old"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v", got)
	}
	for what, r := range map[string]catalog.Review{
		"state": {State: "fine", By: "Ada"}, "name": {State: catalog.Approved}, "measure": {State: catalog.Approved, By: "Ada", MeasuredGradePct: &nan}, "note": {State: catalog.Approved, By: "Ada", Note: "\xff"},
	} {
		if err := c.Review(ctx, "kestrel-road-f-1.0", r); err == nil {
			t.Errorf("a wrong %s was taken", what)
		}
	}
}
