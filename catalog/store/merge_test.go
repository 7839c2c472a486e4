package store

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

func all(t testing.TB, c *Catalog) map[string]catalog.Entry {
	t.Helper()
	l, err := c.Descents(ctx, Filter{WithRetired: true})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]catalog.Entry{}
	for _, e := range l {
		out[e.Descent.ID] = e
	}
	return out
}

func TestMergeBringsRoadsOverWhole(t *testing.T) {
	src, _ := fresh(t)
	rs := survey("Heron Pass", 3)
	rs.Profile = plainProfile(50000)
	rs.Tangents = []Tangent{{FromM: 0, ToM: 1000, GradePct: -6, GradeErrPct: 0.2}}
	save(t, src, rs, SaveOptions{})
	approve(t, src, "heron-pass-f-1.0")
	fewer := survey("Heron Pass", 2) // one is gone
	fewer.Profile, fewer.Tangents = rs.Profile, rs.Tangents
	save(t, src, fewer, SaveOptions{})
	if _, err := src.AddSites(ctx, []catalog.Site{{Kind: catalog.BrakeCheck, Name: "Top", Point: terrain.Point{LonDeg: -110, LatDeg: 40}, Route: "Heron Pass"}}, "t"); err != nil {
		t.Fatal(err)
	}
	dst, path := fresh(t)
	save(t, dst, survey("Kestrel Road", 1), SaveOptions{})
	before := all(t, dst)
	dry, err := Merge(ctx, dst, src, MergeOptions{DryRun: true, By: "Bo"})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(before, all(t, dst)) {
		t.Error("a dry run wrote")
	}
	rep, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
	if err != nil || !reflect.DeepEqual(dry, rep) {
		t.Fatalf("%v\n%+v\n%+v", err, dry, rep)
	}
	if len(rep.Added) != 3 || len(rep.Conflicts) != 0 || len(rep.Sites) != 1 || len(rep.Renamed) != 0 {
		t.Errorf("%+v", rep)
	}
	got := all(t, dst)
	for id, e := range all(t, src) {
		if !reflect.DeepEqual(got[id], e) {
			t.Errorf("%s:\n%+v\n%+v", id, got[id], e)
		}
	}
	a, errA := src.Profile(ctx, "heron-pass-f-1.0")
	b, errB := dst.Profile(ctx, "heron-pass-f-1.0")
	if errA != nil || errB != nil || !reflect.DeepEqual(a.ElevationM, b.ElevationM) {
		t.Errorf("profile: %v %v", errA, errB)
	}
	if tg, err := dst.Tangents(ctx, "Heron Pass"); err != nil || len(tg) != 1 {
		t.Errorf("tangents: %v %v", tg, err)
	}
	if h, err := dst.History(ctx, "heron-pass-f-1.0"); err != nil || len(h) < 3 {
		t.Errorf("history: %+v %v", h, err)
	}
	again, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
	if err != nil || len(again.Same) != 3 || len(again.Added)+len(again.Conflicts)+len(again.Sites) != 0 {
		t.Errorf("a second time: %+v %v", again, err)
	}
	if f, err := dst.Doctor(ctx); err != nil || len(f) != 0 {
		t.Errorf("doctor: %+v %v", f, err)
	}
	mustBeValid(t, path, "merging")
	// The class definitions came along: a survey with them finds nothing changed.
	if ch := save(t, dst, survey("Heron Pass", 2), SaveOptions{}); len(ch.Same) != 2 {
		t.Errorf("surveyed after the merge: %+v", ch)
	}
	if _, err := Merge(ctx, dst, dst, MergeOptions{}); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("into itself: %v", err)
	}
}

func TestMergeShowsConflicts(t *testing.T) {
	prepare := func() (dst, src *Catalog) {
		dst, _ = fresh(t)
		src, _ = fresh(t)
		save(t, dst, survey("Heron Pass", 3), SaveOptions{})
		rs := survey("Heron Pass", 4)
		rs.Entries[1].Descent.DropM = 222
		save(t, src, rs, SaveOptions{})
		approve(t, src, "heron-pass-f-1.0")  // only theirs is reviewed
		approve(t, src, "heron-pass-f-21.0") // both are, differently
		if err := dst.Review(ctx, "heron-pass-f-21.0", catalog.Review{State: catalog.Retired, By: "Cy"}); err != nil {
			t.Fatal(err)
		}
		return dst, src
	}
	dst, src := prepare()
	rep, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"heron-pass-f-11.0": "survey", "heron-pass-f-21.0": "review", "heron-pass-f-31.0": "only in theirs"}
	got := map[string]string{}
	for _, x := range rep.Conflicts {
		got[x.ID] = x.What
		if x.Taken != (x.What == "only in theirs") || x.Ours == "" || x.Theirs == "" || x.Ours == x.Theirs {
			t.Errorf("%+v", x)
		}
	}
	if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(rep.Reviews, []string{"heron-pass-f-1.0"}) {
		t.Errorf("%v, reviews %v", got, rep.Reviews)
	}
	es := all(t, dst)
	if q := es["heron-pass-f-31.0"].Review.InQuestion; !strings.Contains(q, "only from another catalogue") {
		t.Errorf("the hill that only they know is in question: %q", q)
	}
	if len(es) != 4 || es["heron-pass-f-11.0"].Descent.DropM != 241 || es["heron-pass-f-21.0"].Review.By != "Cy" || es["heron-pass-f-1.0"].Review.By != "Ada" {
		t.Errorf("ours did not stand: %+v", es)
	}
	dst, src = prepare()
	if rep, err = Merge(ctx, dst, src, MergeOptions{By: "Bo", TakeTheirs: true, TakeTheirsFor: []string{"heron-pass-f-21.0"}}); err != nil {
		t.Fatal(err)
	}
	es = all(t, dst)
	if len(es) != 4 || es["heron-pass-f-11.0"].Descent.DropM != 222 || es["heron-pass-f-21.0"].Review.By != "Ada" {
		t.Errorf("theirs was not taken: %+v", rep)
	}
	if f, err := dst.Doctor(ctx); err != nil || len(f) != 0 {
		t.Errorf("doctor: %+v %v", f, err)
	}
}

// Two roads of one name: the second's ids step aside.
func TestMergeRenames(t *testing.T) {
	dst, _ := fresh(t)
	src, _ := fresh(t)
	a, b := survey("one", 1), survey("two", 1)
	a.Route.Name, b.Route.Name = "Kestrel Road", "Kestrel Road"
	save(t, dst, a, SaveOptions{})
	save(t, src, b, SaveOptions{})
	rep, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
	if err != nil || rep.Renamed["kestrel-road-f-1.0"] != "kestrel-road-f-1.0-2" {
		t.Errorf("%+v %v", rep, err)
	}
	if e := descent(t, dst, "kestrel-road-f-1.0-2"); e.Descent.Route != "two" {
		t.Errorf("%+v", e.Descent)
	}
}

// plainProfile is an even 6 % down with a gap and a bridge.
func plainProfile(lengthM float64) *routes.Profile {
	const stepM = 10
	n := int(lengthM/stepM) + 1
	p := &routes.Profile{StepM: stepM, LengthM: lengthM, GroundM: make([]float64, n), ElevationM: make([]float64, n), State: make([]routes.StationState, n),
		Points: make([]orb.Point, n), RadiusM: make([]float64, n), EaseM: make([]float64, n), Structures: []routes.Structure{{Kind: routes.Bridge, FromM: 10500, ToM: 10600, Flagged: true}},
		Bound: routes.ErrorModel{EndM: 40, EndShare: 0.6, EaseShare: 1.5, ElevationM: 1, FloorPct: 0.02, SpanM: []float64{100, 1000}, SpanPct: []float64{0.8, 0.2}}, CellM: 10}
	for i := range n {
		p.Points[i], p.RadiusM[i] = orb.Point{11 + 1e-4*float64(i), 46}, math.Inf(1)
		if i%50 == 0 {
			p.RadiusM[i] = 80
		}
		p.ElevationM[i] = 3000 - 0.06*stepM*float64(i)
		p.GroundM[i] = p.ElevationM[i] + 0.123
		p.EaseM[i] = 2 * math.Sin(float64(i)/30)
		if i%97 == 0 {
			p.GroundM[i], p.State[i] = nan, routes.InVoid
		}
	}
	return p
}

// Worse news is kept whichever side has it: a retired hill stays closed, a survey with
// less advice waits to be accepted, and both are queued with who said what and when.
func TestMergeKeepsTheWorseNews(t *testing.T) {
	const closed, slower, better = "heron-pass-f-1.0", "heron-pass-f-11.0", "heron-pass-f-21.0"
	prepare := func() (a, b *Catalog) {
		a, _ = fresh(t)
		b, _ = fresh(t)
		rs := survey("Heron Pass", 3)
		save(t, a, rs, SaveOptions{})
		rs.Entries[1].Holds[1].Holds = false
		rs.Entries[2].Holds[1].SpeedMPS++
		save(t, b, rs, SaveOptions{})
		for _, c := range []*Catalog{a, b} {
			approve(t, c, slower)
		}
		approve(t, a, closed)
		if err := b.Review(ctx, closed, catalog.Review{State: catalog.Retired, By: "Cy", Note: "closed to trucks"}); err != nil {
			t.Fatal(err)
		}
		return a, b
	}
	queued := func(c *Catalog, id string) string {
		t.Helper()
		q, err := c.Queue(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, it := range q {
			if it.ID == id {
				return it.Words
			}
		}
		return ""
	}
	for name, theirsIsClosed := range map[string]bool{"theirs": true, "ours": false} {
		a, b := prepare()
		dst, src := a, b
		if !theirsIsClosed {
			dst, src = b, a
		}
		if _, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"}); err != nil {
			t.Fatal(err)
		}
		r := descent(t, dst, closed).Review
		if r.State != catalog.Retired || r.By != "Cy" || !strings.Contains(r.InQuestion, "approved by Ada on 2026-03-04") {
			t.Errorf("%s is closed: %+v", name, r)
		}
		if w := queued(dst, closed); !strings.Contains(w, "Ada") {
			t.Errorf("%s is closed: queued as %q", name, w)
		}
		p, err := dst.Proposals(ctx)
		if err != nil {
			t.Fatal(err)
		}
		// What is better there stays there: only a person takes it.
		want := map[bool]string{true: slower, false: better}[theirsIsClosed]
		if len(p) != 1 || p[0].ID != want || !strings.Contains(p[0].Words, "heavy") {
			t.Fatalf("%s: proposals %+v", name, p)
		}
		if theirsIsClosed {
			if e := descent(t, dst, slower); e.Review.InQuestion == "" || !e.Holds[1].Holds {
				t.Errorf("waits: %+v", e.Review)
			}
			if err := dst.Accept(ctx, slower, "Bo"); err != nil {
				t.Fatal(err)
			}
			if e := descent(t, dst, slower); e.Review.InQuestion != "" || e.Holds[1].Holds || e.Review.State != catalog.Approved {
				t.Errorf("accepted: %+v", e.Review)
			}
		}
		if f, err := dst.Doctor(ctx); err != nil || len(f) != 0 {
			t.Errorf("doctor: %+v %v", f, err)
		}
	}
	dst, src := prepare()
	if _, err := Merge(ctx, dst, src, MergeOptions{By: "Bo", TakeTheirsFor: []string{slower}, KeepOursFor: []string{closed}}); err != nil {
		t.Fatal(err)
	}
	if e := descent(t, dst, slower); e.Holds[1].Holds {
		t.Error("theirs was not taken by its id")
	}
	if r := descent(t, dst, closed).Review; r.State != catalog.Approved || r.InQuestion != "" {
		t.Errorf("ours was not kept by its id: %+v", r)
	}
}

// A hill that is approved here, and retired there on a survey with less advice, is in
// question for both; its history says who merged.
func TestMergeQuestionsStateAndSurvey(t *testing.T) {
	const hill = "heron-pass-f-1.0"
	dst, _ := fresh(t)
	src, _ := fresh(t)
	rs := survey("Heron Pass", 1)
	save(t, dst, rs, SaveOptions{})
	rs.Entries[0].Holds[1].Holds = false
	save(t, src, rs, SaveOptions{})
	approve(t, dst, hill)
	if err := src.Review(ctx, hill, catalog.Review{State: catalog.Retired, By: "Cy", Note: "closed to trucks"}); err != nil {
		t.Fatal(err)
	}
	if _, err := Merge(ctx, dst, src, MergeOptions{By: "Dora"}); err != nil {
		t.Fatal(err)
	}
	r := descent(t, dst, hill).Review
	if r.State != catalog.Retired || !strings.Contains(r.InQuestion, "the stricter holds") || !strings.Contains(r.InQuestion, "accept or refuse it") {
		t.Errorf("%+v", r)
	}
	list, err := dst.History(ctx, hill)
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprintf("%+v", list)
	if !strings.Contains(text, "retired by Cy") || !strings.Contains(text, "merged by Dora") || strings.Count(text, "By:Dora What:in question") != 2 {
		t.Errorf("%s", text)
	}
}

// A road that an older catalogue holds under the id of an earlier version, or under another name
// with exactly the same line, is listed once after a merge in either direction.
func TestMergeListsARenamedRoadOnce(t *testing.T) {
	for name, c := range map[string]struct{ older, newer, olderLine, newerLine string }{
		"the id of an earlier version": {"A 7 at 46.12N 8.03E", "A 7@46.12N8.03E", "older extract", "newer extract"},
		"a second part":                {"Heron Pass (part 2)", "Heron Pass/2", "older extract", "newer extract"},
		"another name, the same line":  {"Heron Pass", "Heron Pass Road", "one line", "one line"},
	} {
		for _, intoOlder := range []bool{false, true} {
			catalogue := func(id, line string) *Catalog {
				k, _ := fresh(t)
				rs := survey(id, 2)
				rs.Route.LineSHA256, rs.Route.Name = line, "A 7"
				rs.SteepParts = []catalog.SteepPart{pitch(id, 40, 6, routes.Forward)}
				rs.PossibleSteepM = new(float64)
				save(t, k, rs, SaveOptions{})
				save(t, k, survey("Kestrel Road", 1), SaveOptions{})
				if _, err := k.AddSites(ctx, []catalog.Site{{Kind: catalog.BrakeCheck, Name: "Top", Point: terrain.Point{LonDeg: -110, LatDeg: 40}, Route: id}}, "t"); err != nil {
					t.Fatal(err)
				}
				saveNetwork(t, k, drawnRoad(t, id, 1), drawnRoad(t, "CS-240", 2))
				return k
			}
			dst, src, ours := catalogue(c.newer, c.newerLine), catalogue(c.older, c.olderLine), c.newer
			if intoOlder {
				dst, src, ours = src, dst, c.older
			}
			before := all(t, dst)
			rep, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
			if err != nil {
				t.Fatal(err)
			}
			if len(rep.Same) != 3 || len(rep.Routes)+len(rep.Added)+len(rep.Conflicts)+len(rep.Sites) != 0 {
				t.Errorf("%s, into the older one: %v: %+v", name, intoOlder, rep)
			}
			if got := all(t, dst); !reflect.DeepEqual(got, before) {
				t.Errorf("%s, into the older one: %v: %d descents, before %d", name, intoOlder, len(got), len(before))
			}
			if list, err := dst.Routes(ctx); err != nil || len(list) != 2 || list[0].ID != ours && list[1].ID != ours {
				t.Errorf("%s, into the older one: %v: roads %+v, %v", name, intoOlder, list, err)
			}
			// Roads of a network are known by their ids alone.
			if n, err := dst.Network(ctx); err != nil || c.olderLine != c.newerLine && len(n.Roads) != 2 {
				t.Errorf("%s, into the older one: %v: %d roads of the network, %v", name, intoOlder, len(n.Roads), err)
			}
		}
	}
}

// A catalogue whose history is damaged is not merged: what its people knew cannot be told. Nothing is
// written.
func TestMergeRefusesADamagedHistory(t *testing.T) {
	dst, _ := fresh(t)
	src, _ := fresh(t)
	save(t, dst, survey("Heron Pass", 1), SaveOptions{})
	save(t, src, survey("Heron Pass", 2), SaveOptions{})
	if err := src.file.Change(ctx, func() error {
		_, err := src.file.Exec("UPDATE history SET done_by = 'Nobody'")
		return err
	}); err != nil {
		t.Fatal(err)
	}
	before := all(t, dst)
	if _, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"}); !errors.Is(err, terrain.ErrRead) || !strings.Contains(err.Error(), "history") {
		t.Errorf("%v", err)
	}
	if !reflect.DeepEqual(before, all(t, dst)) {
		t.Error("something was merged")
	}
}

// One id for two roads in different places: the hills of both are listed, theirs in question, and a
// second merge changes nothing.
func TestMergeOfTwoRoadsWithOneID(t *testing.T) {
	dst, _ := fresh(t)
	src, _ := fresh(t)
	save(t, dst, survey("Heron Pass", 1), SaveOptions{})
	far := survey("Heron Pass", 1)
	far.Route.LineSHA256 = "another line"
	for i := range far.Entries[0].Line {
		far.Entries[0].Line[i].LatDeg = 50
	}
	save(t, src, far, SaveOptions{})
	rep, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"})
	if err != nil || len(rep.Added) != 1 {
		t.Fatalf("%+v, %v", rep, err)
	}
	if e := descent(t, dst, rep.Added[0]); e.Line[0].LatDeg != 50 || !strings.Contains(e.Review.InQuestion, "only from another catalogue") {
		t.Errorf("%+v", e)
	}
	if again, err := Merge(ctx, dst, src, MergeOptions{By: "Bo"}); err != nil || len(again.Added) != 0 || len(all(t, dst)) != 2 {
		t.Errorf("%+v, %v", again, err)
	}
}

// A site that somebody removed on one side is not brought back in silence, and the removal is told
// to the other side.
func TestMergeOfARemovedSite(t *testing.T) {
	a, _ := fresh(t)
	b, _ := fresh(t)
	for _, c := range []*Catalog{a, b} {
		if _, err := c.AddSites(ctx, []catalog.Site{{ID: "ramp", Kind: catalog.EscapeRamp, Point: terrain.Point{LonDeg: -110, LatDeg: 40}}}, "t"); err != nil {
			t.Fatal(err)
		}
	}
	if err := a.RemoveSite(ctx, "ramp", "Ada", "torn down"); err != nil {
		t.Fatal(err)
	}
	for name, m := range map[string][2]*Catalog{"into the one without it": {a, b}, "into the one with it": {b, a}} {
		rep, err := Merge(ctx, m[0], m[1], MergeOptions{By: "Bo"})
		if err != nil || len(rep.Sites) != 0 || len(rep.Conflicts) != 1 || !strings.Contains(rep.Conflicts[0].Ours+rep.Conflicts[0].Theirs, "removed by Ada on 2026-03-04: torn down") {
			t.Errorf("%s: %+v, %v", name, rep, err)
		}
	}
	if rep, err := Merge(ctx, a, b, MergeOptions{By: "Bo", TakeTheirs: true}); err != nil || len(rep.Sites) != 1 {
		t.Errorf("theirs: %+v, %v", rep, err)
	}
}
