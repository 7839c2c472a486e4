package store

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
	"gradeline/terrain"
)

func approve(t testing.TB, c *Catalog, id string) {
	t.Helper()
	if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada", Note: "driven"}); err != nil {
		t.Fatal(err)
	}
}

func descent(t testing.TB, c *Catalog, id string) catalog.Entry {
	t.Helper()
	e, err := c.Descent(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestTheSameSurveyChangesNothing(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 3)
	save(t, c, rs, SaveOptions{})
	approve(t, c, "kestrel-road-f-1.0")
	before := descent(t, c, "kestrel-road-f-1.0")
	for i := range rs.Entries {
		rs.Entries[i].Provenance.At = clock().AddDate(0, 1, 0)
	}
	ch := save(t, c, rs, SaveOptions{})
	if len(ch.Same) != 3 || ch.Any() || len(ch.Holds) != 0 {
		t.Errorf("%+v", ch)
	}
	if after := descent(t, c, "kestrel-road-f-1.0"); !reflect.DeepEqual(before, after) {
		t.Errorf("changed: %+v", after.Review)
	}
}

// What an approval stands on: terrain, line, rules, class, figures, advice.
func TestAnApprovalFallsInQuestion(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(rs *RouteSurvey)
		why    string
	}{
		{"terrain", func(rs *RouteSurvey) { rs.Entries[0].Provenance.Rasters = []string{"b.tif, EPSG:4326, 1 m"} }, "the terrain data changed"},
		{"datum", func(rs *RouteSurvey) { rs.Entries[0].Provenance.VertDatum = "EPSG:5703" }, "the terrain data changed"},
		{"line", func(rs *RouteSurvey) { rs.Route.LineSHA256 = "line 2" }, "the road's line changed"},
		{"rules", func(rs *RouteSurvey) { rs.Entries[0].Provenance.Rules = "5 %" }, "the rules changed"},
		{"class", func(rs *RouteSurvey) { rs.ClassesUsed[1].Definition = `{"id":"heavy","mass":1}` }, "weight class heavy changed"},
		{"figures", func(rs *RouteSurvey) { rs.Entries[0].Descent.DropM++ }, "the figures changed"},
		{"advice", func(rs *RouteSurvey) { rs.Entries[0].Holds[1] = catalog.Hold{Class: "heavy", MassKg: 46500} }, "advice for heavy changed from gear 5 at 28 km/h (17 mph) to not held"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c, _ := fresh(t)
			save(t, c, survey("Kestrel Road", 2), SaveOptions{})
			approve(t, c, "kestrel-road-f-1.0")
			rs := survey("Kestrel Road", 2)
			tc.change(&rs)
			dry, err := c.SaveRoute(ctx, rs, SaveOptions{DryRun: true})
			if err != nil {
				t.Fatal(err)
			}
			if q := descent(t, c, "kestrel-road-f-1.0").Review.InQuestion; q != "" {
				t.Errorf("a dry run wrote %q", q)
			}
			ch := save(t, c, rs, SaveOptions{})
			if !reflect.DeepEqual(dry, ch) {
				t.Errorf("the dry run told\n%+v, done was\n%+v", dry, ch)
			}
			r := descent(t, c, "kestrel-road-f-1.0").Review
			if r.State != catalog.Approved || r.By != "Ada" || !strings.Contains(r.InQuestion, tc.why) {
				t.Errorf("review %+v, want %q in question", r, tc.why)
			}
			if len(ch.Questioned) != 1 || ch.Questioned[0].ID != "kestrel-road-f-1.0" {
				t.Errorf("told: %+v", ch.Questioned)
			}
			if r := descent(t, c, "kestrel-road-f-11.0").Review; r.InQuestion != "" {
				t.Errorf("the other descent, which nobody approved, is in question: %q", r.InQuestion)
			}
			approve(t, c, "kestrel-road-f-1.0")
			if r := descent(t, c, "kestrel-road-f-1.0").Review; r.InQuestion != "" {
				t.Errorf("still in question after a new approval: %q", r.InQuestion)
			}
		})
	}
}

func TestANewClassQuestionsOtherRoads(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	save(t, c, survey("Heron Pass", 1), SaveOptions{})
	approve(t, c, "heron-pass-f-1.0")
	rs := survey("Kestrel Road", 1)
	rs.ClassesUsed[0].Definition = `{"id":"light","mass":1}`
	save(t, c, rs, SaveOptions{})
	if r := descent(t, c, "heron-pass-f-1.0").Review; !strings.Contains(r.InQuestion, "weight class light changed") {
		t.Errorf("in question: %q", r.InQuestion)
	}
}

func TestAMoveOfAReviewedDescentWaits(t *testing.T) {
	moved := survey("Kestrel Road", 2)
	for i := range moved.Entries {
		moved.Entries[i].Descent.StartM += 300
		moved.Entries[i].Descent.LengthM -= 300
		moved.Entries[i].Line = moved.Entries[i].Line[1:]
	}
	const id, plain = "kestrel-road-f-1.0", "kestrel-road-f-11.0"
	prepare := func() (*Catalog, catalog.Entry) {
		c, _ := fresh(t)
		save(t, c, survey("Kestrel Road", 2), SaveOptions{})
		approve(t, c, id)
		return c, descent(t, c, id)
	}
	c, before := prepare()
	ch := save(t, c, moved, SaveOptions{})
	if len(ch.Moved) != 2 || ch.Moved[0].Taken || !ch.Moved[1].Taken || ch.Moved[0].Shifts[0].Figure != "start_m" {
		t.Fatalf("moved: %+v", ch.Moved)
	}
	e := descent(t, c, id)
	if !reflect.DeepEqual(e.Descent, before.Descent) || !strings.Contains(e.Review.InQuestion, "the crest moved by 300 m, from station 1000 m to 1300 m") {
		t.Errorf("reviewed one: %v, %q", e.Descent.StartM, e.Review.InQuestion)
	}
	if e := descent(t, c, plain); e.Descent.StartM != 11300 {
		t.Errorf("the one that nobody reviewed stays at %v", e.Descent.StartM)
	}
	if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada"}); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("approved while a survey waits: %v", err)
	}
	q, err := c.Queue(ctx)
	if err != nil || len(q) != 2 || q[0].ID != plain && q[0].ID != id {
		t.Fatalf("queue %+v, %v", q, err)
	}
	for _, it := range q {
		want := []string{QueueNew}
		if it.ID == id {
			want = []string{QueueMoved, QueueInQuestion}
		}
		if !reflect.DeepEqual(it.Reasons, want) {
			t.Errorf("%s waits for %v, want %v", it.ID, it.Reasons, want)
		}
	}
	if p, err := c.Proposals(ctx); err != nil || len(p) != 1 || p[0].ID != id || p[0].Entry.Descent.StartM != 1300 {
		t.Errorf("proposals %+v, %v", p, err)
	}
	if err := c.Accept(ctx, id, "Bo"); err != nil {
		t.Fatal(err)
	}
	e = descent(t, c, id)
	want := resurvey.AsStored(moved.Entries[0], &moved)
	want.Descent.ID, want.Review = id, e.Review
	if !reflect.DeepEqual(e, want) {
		t.Errorf("accepted: %+v", e.Descent)
	}
	if e.Review.State != catalog.Approved || e.Review.InQuestion != "" {
		t.Errorf("after accepting: %+v", e.Review)
	}
	if ch := save(t, c, moved, SaveOptions{}); len(ch.Same) != 2 {
		t.Errorf("the accepted survey again: %+v", ch)
	}

	c, before = prepare()
	save(t, c, moved, SaveOptions{})
	if err := c.Refuse(ctx, id, "Bo", "the raster is worse"); err != nil {
		t.Fatal(err)
	}
	if e := descent(t, c, id); !reflect.DeepEqual(e.Descent, before.Descent) {
		t.Errorf("refused, yet %v", e.Descent.StartM)
	}
	h, err := c.History(ctx, id)
	var what []string
	for _, x := range h {
		what = append(what, x.What)
	}
	if err != nil || !reflect.DeepEqual(what, []string{"added", "review", "proposed", "in question", "refused"}) {
		t.Errorf("history %v, %v", what, err)
	}

	c, _ = prepare()
	if ch := save(t, c, moved, SaveOptions{AcceptMoves: true}); !ch.Moved[0].Taken || descent(t, c, id).Descent.StartM != 1300 {
		t.Errorf("with AcceptMoves: %+v", ch.Moved)
	}
}

func TestGoneDescentsStay(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	approve(t, c, "kestrel-road-f-11.0")
	ch := save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	if len(ch.Gone) != 1 || ch.Gone[0] != "kestrel-road-f-11.0" {
		t.Fatalf("%+v", ch)
	}
	e := descent(t, c, "kestrel-road-f-11.0")
	if e.Review.State != catalog.Approved || !strings.Contains(e.Review.InQuestion, "no longer found") || len(e.Holds) != 2 {
		t.Errorf("%+v", e.Review)
	}
	if ch := save(t, c, survey("Kestrel Road", 1), SaveOptions{}); len(ch.Gone) != 0 {
		t.Errorf("gone twice: %+v", ch)
	}
	if l, _ := c.Descents(ctx, Filter{Gone: true}); len(l) != 1 {
		t.Errorf("%d gone", len(l))
	}
	ch = save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	if len(ch.Back) != 1 || ch.Back[0] != "kestrel-road-f-11.0" {
		t.Errorf("back: %+v", ch)
	}
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	if err := c.Review(ctx, "kestrel-road-f-11.0", catalog.Review{State: catalog.Retired, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	if l, _ := c.Descents(ctx, Filter{}); len(l) != 1 {
		t.Errorf("%d listed after one was retired", len(l))
	}
	if l, _ := c.Descents(ctx, Filter{WithRetired: true}); len(l) != 2 {
		t.Errorf("%d with the retired", len(l))
	}
}

// A road drawn anew and the other way round keeps its hills' names.
func TestANewLineKeepsIdentities(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	rs := survey("Kestrel Road", 3)
	rs.Route.LineSHA256 = "drawn the other way"
	for i := range rs.Entries {
		d := &rs.Entries[i].Descent
		d.Direction = routes.Backward
		d.StartM, d.EndM = 50000-d.StartM, 50000-d.EndM
		for k := range rs.Entries[i].Line {
			v := &rs.Entries[i].Line[k]
			v.StationM = 50000 - v.StationM
			v.LatDeg += 1e-4 // 11 m to the side
		}
		d.CrestLatDeg += 1e-4
		d.FootLatDeg += 1e-4
	}
	ch := save(t, c, rs, SaveOptions{})
	if len(ch.Updated) != 3 || len(ch.Added)+len(ch.Gone)+len(ch.Moved) != 0 {
		t.Errorf("%+v", ch)
	}
	if e := descent(t, c, "kestrel-road-f-1.0"); e.Descent.Direction != routes.Backward || e.Descent.StartM != 49000 {
		t.Errorf("%+v", e.Descent)
	}
}

// What a save says is stored is what is read back: of new descents, of the same, of
// updated and moved ones, of those that wait and of those found again.
func TestASaveGivesWhatIsStored(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 4)
	check := func(ch Changes) {
		t.Helper()
		if len(ch.Stored) != len(rs.Entries) {
			t.Fatalf("%d of %d stored", len(ch.Stored), len(rs.Entries))
		}
		for _, e := range ch.Stored {
			if got := descent(t, c, e.Descent.ID); !reflect.DeepEqual(got, e) {
				t.Errorf("%s reads\n%+v, the save said\n%+v", e.Descent.ID, got, e)
			}
		}
	}
	check(save(t, c, rs, SaveOptions{}))
	approve(t, c, "kestrel-road-f-1.0")
	approve(t, c, "kestrel-road-f-11.0")
	check(save(t, c, rs, SaveOptions{}))
	rs.Entries[0].Descent.StartM += 600 // approved: it waits
	rs.Entries[1].Holds[0].Gear++       // approved: in question
	rs.Entries[2].Descent.StartM += 600 // nobody looked: it moves
	check(save(t, c, rs, SaveOptions{}))
	all := rs.Entries
	rs.Entries = all[1:3]
	check(save(t, c, rs, SaveOptions{}))
	rs.Entries = all
	check(save(t, c, rs, SaveOptions{AcceptMoves: true}))
}

// Accepting or refusing ends the question that the proposal raised, and no other; one
// that a newer proposal raised in its place goes with it.
func TestADecisionEndsItsQuestionOnly(t *testing.T) {
	for _, decide := range []string{"accept", "refuse"} {
		c, _ := fresh(t)
		rs := survey("Kestrel Road", 1)
		save(t, c, rs, SaveOptions{})
		const id = "kestrel-road-f-1.0"
		if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada", InQuestion: "a photo is missing"}); err != nil {
			t.Fatal(err)
		}
		for range 2 {
			rs.Entries[0].Descent.StartM += 300
			save(t, c, rs, SaveOptions{})
		}
		if q := descent(t, c, id).Review.InQuestion; strings.Count(q, "accept or refuse") != 1 || !strings.Contains(q, "photo") {
			t.Errorf("waiting: %q", q)
		}
		var err error
		if decide == "accept" {
			err = c.Accept(ctx, id, "Bo")
		} else {
			err = c.Refuse(ctx, id, "Bo", "no")
		}
		if q := descent(t, c, id).Review.InQuestion; err != nil || q != "a photo is missing" {
			t.Errorf("%s: %q, %v", decide, q, err)
		}
	}
}

// Who set a state back is told to who set it before, in the history and in the queue,
// until someone looks again.
func TestASetBackIsTold(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	const id = "kestrel-road-f-1.0"
	review := func(state catalog.ReviewState, by string) []string {
		t.Helper()
		if err := c.Review(ctx, id, catalog.Review{State: state, By: by, Note: "n"}); err != nil {
			t.Fatal(err)
		}
		q, err := c.Queue(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, it := range q {
			if slices.Contains(it.Reasons, QueueSetBack) {
				return []string{it.Words}
			}
		}
		return nil
	}
	for _, step := range []struct {
		state catalog.ReviewState
		by    string
		tells string
	}{
		{catalog.Approved, "Ada", ""},
		{catalog.FieldChecked, "Ada", ""}, // of oneself
		{catalog.Approved, "Ada", ""},
		{catalog.Surveyed, "Bo", "set back by Bo from approved (Ada, 2026-03-04) to surveyed; n"},
		{catalog.FieldChecked, "Cy", ""},
		{catalog.Retired, "Ada", ""},
		{catalog.Approved, "Bo", "set back by Bo from retired (Ada, 2026-03-04) to approved; n"},
	} {
		if got := strings.Join(review(step.state, step.by), "|"); got != step.tells {
			t.Errorf("%s by %s: queued %q, want %q", step.state, step.by, got, step.tells)
		}
	}
	h, err := c.History(ctx, id)
	if err != nil || h[len(h)-1].What != "set back" || h[len(h)-1].By != "Bo" || !strings.Contains(h[len(h)-1].Words, "from retired (Ada, 2026-03-04)") {
		t.Errorf("history %+v, %v", h, err)
	}
}
