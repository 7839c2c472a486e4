package resurvey

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/routes"
)

const (
	first = "2026-03-04T05:06:07.000Z"
	later = "2026-05-06T07:08:09.000Z"
)

// hillAt is a descent of 4 km that starts at a station, forward, east along a parallel.
func hillAt(startM float64) catalog.Entry {
	e := catalog.Entry{
		Descent: routes.Descent{Route: "r", StartM: startM, EndM: startM + 4000, LengthM: 4000, StartErrM: 30, EndErrM: 40, MeanDowngradePct: 6, MeanDowngradeErrPct: 0.3,
			CrestLonDeg: startM / 1e5, FootLonDeg: (startM + 4000) / 1e5},
		Holds:      []catalog.Hold{{Class: "heavy", Holds: true, Gear: 5, SpeedMPS: 8}},
		Provenance: catalog.Provenance{Tool: "t", Rasters: []string{"a", "b"}, Rules: "rules"},
	}
	for i := range 9 {
		s := startM + 500*float64(i)
		e.Line = append(e.Line, catalog.Vertex{LonDeg: s / 1e5, ElevationM: 1000 - 30*float64(i), StationM: s})
	}
	e.Review.State = catalog.Surveyed
	return e
}

func held(id string, startM float64, state catalog.ReviewState) *Stored {
	s := &Stored{Entry: hillAt(startM), ClassSHA256: map[string]string{"heavy": "1"}}
	s.Descent.ID, s.Review.State = id, state
	if state != catalog.Surveyed {
		s.Review.By = "Ada"
	}
	return s
}

func free(string) (bool, error) { return false, nil }

func compare(t *testing.T, now []catalog.Entry, known []*Stored, change func(k *Known, o *Options)) *Plan {
	t.Helper()
	k := Known{Slug: "road", SameLine: true, Descents: known}
	o := Options{At: later, IsTaken: free, ClassSHA256: map[string]string{"heavy": "1"}}
	if change != nil {
		change(&k, &o)
	}
	p, err := Compare(&RouteSurvey{Route: RouteRecord{ID: "r"}, Entries: now}, k, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// What each kind of change does to a descent, by the state of its review.
func TestCompareByChangeAndState(t *testing.T) {
	for _, tc := range []struct {
		name    string
		state   catalog.ReviewState
		change  func(e *catalog.Entry, k *Known, o *Options)
		do      Action
		why     string // part of the question; empty: none
		isMoved bool
	}{
		{"nothing", catalog.Approved, func(*catalog.Entry, *Known, *Options) {}, Keep, "", false},
		{"only the moment", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Provenance.At = time.Unix(1, 0) }, Keep, "", false},
		{"rasters in another order", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Provenance.Rasters = []string{"b", "a"} }, Update, "", false},
		{"within the bounds", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.StartM += 42 }, Update, "the figures changed", false},
		{"crest beyond its bounds, nobody looked", catalog.Surveyed, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.StartM += 43 }, Update, "", true},
		{"crest beyond its bounds", catalog.FieldChecked, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.StartM += 43 }, Propose, "accept or refuse", true},
		{"crest beyond its bounds, accepted", catalog.Approved, func(e *catalog.Entry, _ *Known, o *Options) { e.Descent.StartM += 43; o.AcceptMoves = true }, Update, "moved it beyond its bounds", true},
		{"crest beyond its bounds, retired", catalog.Retired, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.StartM += 43 }, Update, "", true},
		{"foot within", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.EndM += 56 }, Update, "the figures changed", false},
		{"foot beyond", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.EndM -= 57 }, Propose, "the foot moved by 57 m", true},
		{"mean within", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.MeanDowngradePct = 6.42 }, Update, "the figures changed", false},
		{"mean beyond", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Descent.MeanDowngradePct = 6.43 }, Propose, "the mean downgrade went from 6.00 % to 6.43 %", true},
		{"advice", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Holds[0].Gear = 4 }, Update, "advice for heavy changed from gear 5 at 28 km/h (17 mph) to gear 4 at 28 km/h (17 mph)", false},
		{"not held any more", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Holds[0].Holds = false }, Update, "to not held", false},
		{"advice, field-checked", catalog.FieldChecked, func(e *catalog.Entry, _ *Known, _ *Options) { e.Holds[0].Gear = 4 }, Update, "", false},
		{"another terrain", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Provenance.Rasters = []string{"c"} }, Update, "the terrain data changed", false},
		{"another datum", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Provenance.VertDatum = "x" }, Update, "the terrain data changed", false},
		{"other rules", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Provenance.Rules = "x" }, Update, "the rules changed", false},
		{"another class definition", catalog.Approved, func(_ *catalog.Entry, _ *Known, o *Options) { o.ClassSHA256 = map[string]string{"heavy": "2"} }, Update, "weight class heavy changed", false},
		{"one class fewer", catalog.Approved, func(e *catalog.Entry, _ *Known, _ *Options) { e.Holds = nil }, Update, "other weight classes were asked for", false},
		{"a line drawn anew", catalog.Approved, func(_ *catalog.Entry, k *Known, _ *Options) { k.SameLine = false }, Update, "the road's line changed", false},
		{"crest 59 m off on a new line", catalog.Approved, func(e *catalog.Entry, k *Known, _ *Options) {
			k.SameLine = false
			e.Descent.CrestLatDeg = 59.0 / 110574
		}, Update, "the road's line changed", false},
		{"crest 61 m off on a new line", catalog.Approved, func(e *catalog.Entry, k *Known, _ *Options) {
			k.SameLine = false
			e.Descent.CrestLatDeg = 61.0 / 110574
		}, Propose, "the crest moved by 61 m", true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			old, now := held("road-f-1.0", 1000, tc.state), hillAt(1000)
			tc.change(&now, &Known{}, &Options{})
			p := compare(t, []catalog.Entry{now}, []*Stored{old}, func(k *Known, o *Options) { n := hillAt(1000); tc.change(&n, k, o) })
			s := p.Steps[0]
			if s.Do != tc.do || s.ID != "road-f-1.0" || (len(s.Shifts) > 0) != tc.isMoved || !strings.Contains(s.Why, tc.why) || (s.Why == "") != (tc.why == "") {
				t.Errorf("does %d, shifts %v, %q", s.Do, s.Shifts, s.Why)
			}
			if (len(p.Changes.Questioned) == 1) != (tc.why != "") || (len(p.Changes.Same) == 1) != (tc.do == Keep) || (len(p.Changes.Moved) == 1) != tc.isMoved || tc.isMoved && p.Changes.Moved[0].Taken != (tc.do == Update) {
				t.Errorf("changes %+v", p.Changes)
			}
			stored := p.Changes.Stored[0]
			if kept := tc.do != Update; kept != reflect.DeepEqual(stored.Descent, old.Descent) && !reflect.DeepEqual(now.Descent, hillAt(1000).Descent) {
				t.Errorf("stored %+v", stored.Descent)
			}
			if !strings.Contains(stored.Review.InQuestion, tc.why) || stored.Review.State != tc.state {
				t.Errorf("stored review %+v", stored.Review)
			}
		})
	}
}

// New descents get ids, those that are gone stay and are in question where a person
// had looked, those found again are said to be back.
func TestCompareAddsKeepsAndFindsAgain(t *testing.T) {
	gone := held("road-f-9.0", 9000, catalog.Approved)
	back := held("road-f-20.0", 20000, catalog.Surveyed)
	back.GoneSince = first
	back.Review.InQuestion = GoneQuestion(first)
	lost := held("road-f-40.0", 40000, catalog.Surveyed)
	longGone := held("road-f-60.0", 60000, catalog.Approved)
	longGone.GoneSince = first
	taken := map[string]bool{"road-f-1.0": true}
	p := compare(t, []catalog.Entry{hillAt(1000), hillAt(20000)}, []*Stored{gone, back, lost, longGone}, func(_ *Known, o *Options) {
		o.IsTaken = func(id string) (bool, error) { return taken[id], nil }
	})
	ch := p.Changes
	if !slices.Equal(ch.Added, []string{"road-f-1.0-2"}) || !slices.Equal(ch.Gone, []string{"road-f-9.0", "road-f-40.0"}) || !slices.Equal(ch.Back, []string{"road-f-20.0"}) || !slices.Equal(ch.Descents, []string{"road-f-1.0-2", "road-f-20.0"}) {
		t.Errorf("%+v", ch)
	}
	if len(ch.Questioned) != 1 || ch.Questioned[0] != (Question{"road-f-9.0", "no longer found by the survey of 2026-05-06"}) || len(p.Gone) != 2 {
		t.Errorf("in question %+v", ch.Questioned)
	}
	if q := ch.Stored[1].Review.InQuestion; q != "" || !p.Steps[1].Back {
		t.Errorf("found again, and still in question: %q", q)
	}
	kept := compare(t, []catalog.Entry{func() catalog.Entry { e := hillAt(1000); e.Descent.ID = "theirs"; return e }()}, nil, func(_ *Known, o *Options) { o.KeepIDs = true })
	if !slices.Equal(kept.Changes.Added, []string{"theirs"}) {
		t.Errorf("%v", kept.Changes.Added)
	}
	broken := errors.New("x")
	if _, err := Compare(&RouteSurvey{Entries: []catalog.Entry{hillAt(1)}}, Known{Slug: "s"}, Options{At: later, IsTaken: func(string) (bool, error) { return false, broken }}); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
}

// Descents are the same hill from half of the shorter on, in one direction only, and
// the larger overlap wins.
func TestMatch(t *testing.T) {
	backward := hillAt(1000)
	backward.Descent.Direction = routes.Backward
	short := hillAt(1000)
	short.Descent.EndM, short.Descent.LengthM = 2000, 1000
	for _, tc := range []struct {
		name     string
		old      []float64
		now      []catalog.Entry
		sameLine bool
		want     []Pair
	}{
		{"just half", []float64{1000}, []catalog.Entry{hillAt(3000)}, true, []Pair{{0, 0}}},
		{"less than half", []float64{1000}, []catalog.Entry{hillAt(3001)}, true, nil},
		{"the other way", []float64{1000}, []catalog.Entry{backward}, true, nil},
		{"half of the shorter", []float64{1500}, []catalog.Entry{short}, true, []Pair{{0, 0}}},
		{"the larger overlap", []float64{1000, 2000}, []catalog.Entry{hillAt(1900)}, true, []Pair{{1, 0}}},
		{"one to one", []float64{1000, 2000}, []catalog.Entry{hillAt(1900), hillAt(1200)}, true, []Pair{{1, 0}, {0, 1}}},
		{"by place", []float64{1000}, []catalog.Entry{hillAt(1000)}, false, []Pair{{0, 0}}},
		{"by place, half", []float64{1000}, []catalog.Entry{hillAt(2900)}, false, []Pair{{0, 0}}},
		{"by place, elsewhere", []float64{1000}, []catalog.Entry{hillAt(3600)}, false, nil},
	} {
		var old []*Stored
		for _, s := range tc.old {
			old = append(old, held("x", s, catalog.Surveyed))
		}
		if got := Match(old, tc.now, tc.sameLine); !slices.Equal(got, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, got, tc.want)
		}
	}
	// Beside the other carriageway, on a new line: 59 m away is the same hill, 61 m not,
	// and not the other way round.
	for offM, same := range map[float64]bool{59: true, 61: false} {
		e := hillAt(1000)
		for i := range e.Line {
			e.Line[i].LatDeg += offM / 110574
		}
		if got := len(Match([]*Stored{held("x", 1000, catalog.Surveyed)}, []catalog.Entry{e}, false)) == 1; got != same {
			t.Errorf("%.0f m away: %v", offM, got)
		}
		slices.Reverse(e.Line)
		if len(Match([]*Stored{held("x", 1000, catalog.Surveyed)}, []catalog.Entry{e}, false)) != 0 {
			t.Error("the other way round is the same hill")
		}
	}
}

// Of two reviews the stricter holds, in question, whichever side has it; a named choice
// is a person's word.
func TestMergeReviews(t *testing.T) {
	r := func(s catalog.ReviewState, by string) catalog.Review {
		return catalog.Review{State: s, By: by, At: time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC), Note: "n"}
	}
	none := catalog.Review{State: catalog.Surveyed}
	for _, tc := range []struct {
		name         string
		ours, theirs catalog.Review
		choice       Choice
		state        catalog.ReviewState
		by           string
		theirsHolds  bool
		conflict     bool
		question     string
	}{
		{"only ours", r(catalog.Approved, "A"), none, Undecided, catalog.Approved, "A", false, false, ""},
		{"only theirs", none, r(catalog.Approved, "B"), Undecided, catalog.Approved, "B", true, false, ""},
		{"the same", r(catalog.Approved, "A"), r(catalog.Approved, "A"), Undecided, catalog.Approved, "A", false, false, ""},
		{"theirs retired", r(catalog.Approved, "A"), r(catalog.Retired, "B"), Undecided, catalog.Retired, "B", true, true, "this catalogue said approved by A on 2026-03-04 00:00:00: n"},
		{"ours retired", r(catalog.Retired, "A"), r(catalog.Approved, "B"), Undecided, catalog.Retired, "A", false, true, "another catalogue says approved by B on 2026-03-04 00:00:00: n"},
		{"theirs set back", r(catalog.Approved, "A"), r(catalog.Surveyed, "B"), Undecided, catalog.Surveyed, "B", true, true, "this catalogue said approved by A"},
		{"theirs field-checked", r(catalog.Approved, "A"), r(catalog.FieldChecked, "B"), Undecided, catalog.FieldChecked, "B", true, true, "this catalogue said approved"},
		{"ours field-checked", r(catalog.FieldChecked, "A"), r(catalog.Approved, "B"), Undecided, catalog.FieldChecked, "A", false, true, "another catalogue says approved"},
		{"set back against field-checked", r(catalog.FieldChecked, "A"), r(catalog.Surveyed, "B"), Undecided, catalog.Surveyed, "B", true, true, "this catalogue said field-checked"},
		{"one state, two people", r(catalog.Approved, "A"), r(catalog.Approved, "B"), Undecided, catalog.Approved, "A", false, true, ""},
		{"theirs chosen", r(catalog.Retired, "A"), r(catalog.Approved, "B"), Theirs, catalog.Approved, "B", true, true, ""},
		{"ours chosen", r(catalog.Approved, "A"), r(catalog.Retired, "B"), Ours, catalog.Approved, "A", false, true, ""},
	} {
		got := MergeReviews(tc.ours, tc.theirs, tc.choice, Knowledge{})
		q := got.Review.InQuestion
		if got.Review.State != tc.state || got.Review.By != tc.by || got.IsTheirs != tc.theirsHolds || got.HasConflict != tc.conflict || !strings.Contains(q, tc.question) || (q == "") != (tc.question == "") {
			t.Errorf("%s: %+v", tc.name, got)
		}
	}
	questioned := r(catalog.Approved, "B")
	questioned.InQuestion = "the terrain data changed"
	if got := MergeReviews(r(catalog.Approved, "A"), questioned, Undecided, Knowledge{}); got.Review.InQuestion != "the terrain data changed" || got.Review.By != "A" {
		t.Errorf("what is in question there: %+v", got)
	}
}

// A decision in knowledge of the other review holds, whichever side has it, and answers the question of
// the two; other questions stay, and so does a measurement.
func TestMergeOfADecision(t *testing.T) {
	at := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	measured := 7.0
	closed := catalog.Review{State: catalog.Retired, By: "Cy", At: at, MeasuredGradePct: &measured, InQuestion: "this catalogue said approved by Ada, the stricter holds until a person decides; the terrain data changed"}
	decided := catalog.Review{State: catalog.Approved, By: "Eve", At: at.Add(time.Hour)}
	for name, got := range map[string]MergedReview{
		"theirs": MergeReviews(closed, decided, Undecided, Knowledge{TheirsKnowsOurs: true}), "ours": MergeReviews(decided, closed, Undecided, Knowledge{OursKnowsTheirs: true}),
	} {
		if got.HasConflict || got.Review.By != "Eve" || got.Review.InQuestion != "the terrain data changed" || got.Review.MeasuredGradePct == nil || got.IsTheirs != (name == "theirs") {
			t.Errorf("%s: %+v", name, got)
		}
	}
	for _, known := range []Knowledge{{}, {OursKnowsTheirs: true, TheirsKnowsOurs: true}} {
		if got := MergeReviews(closed, decided, Undecided, known); got.Review.State != catalog.Retired || !got.HasConflict || !strings.Contains(got.Review.InQuestion, "Eve") {
			t.Errorf("%+v: %+v", known, got)
		}
	}
	questioned := catalog.Review{State: catalog.Surveyed, InQuestion: "known only from another catalogue"}
	if got := MergeReviews(decided, questioned, Undecided, Knowledge{}); got.Review.By != "Eve" || got.Review.InQuestion != questioned.InQuestion || got.IsTheirs {
		t.Errorf("nobody's review, in question: %+v", got)
	}
}

func TestWorseNews(t *testing.T) {
	for _, tc := range []struct {
		name   string
		change func(e *catalog.Entry)
		says   string
	}{
		{"the same", func(*catalog.Entry) {}, ""},
		{"steeper within the bounds", func(e *catalog.Entry) { e.Descent.MeanDowngradePct = 6.42 }, ""},
		{"steeper", func(e *catalog.Entry) { e.Descent.MeanDowngradePct = 6.43 }, "the mean downgrade is 6.4 %, not 6.0 %"},
		{"gentler", func(e *catalog.Entry) { e.Descent.MeanDowngradePct = 5 }, ""},
		{"longer within the bounds", func(e *catalog.Entry) { e.Descent.LengthM = 4070 }, ""},
		{"longer", func(e *catalog.Entry) { e.Descent.LengthM = 4071 }, "it is 4071 m long, not 4000 m"},
		{"not held", func(e *catalog.Entry) { e.Holds[0].Holds = false }, "heavy: not held, not gear 5 at 28 km/h (17 mph)"},
		{"slower", func(e *catalog.Entry) { e.Holds[0].SpeedMPS = 7.5 }, "heavy: gear 5 at 27 km/h (16 mph), not gear 5 at 28 km/h (17 mph)"},
		{"faster", func(e *catalog.Entry) { e.Holds[0].SpeedMPS = 9 }, ""},
	} {
		ours, theirs := hillAt(1000), hillAt(1000)
		tc.change(&theirs)
		if got := WorseNews(&ours, &theirs); got != tc.says {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.says)
		}
	}
}

func TestQuestionsAreJoinedAndTakenOff(t *testing.T) {
	why := ProposalQuestion(later, "the crest moved")
	if why != "survey of 2026-05-06 moved it beyond its bounds: the crest moved; accept or refuse it" {
		t.Error(why)
	}
	for _, tc := range [][3]string{{"", "a", "a"}, {"a", "a", "a"}, {"a", "b", "a; b"}, {"a; b", "b", "a; b"}, {"a", "", "a"}, {strings.Repeat("x", 4000), "b", strings.Repeat("x", 4000) + "; and more, see its history"}, {strings.Repeat("x", 3999), "b", strings.Repeat("x", 3999) + "; b"}} {
		if got := JoinQuestions(tc[0], tc[1]); got != tc[2] {
			t.Errorf("%.20q and %q: %.20q", tc[0], tc[1], got)
		}
	}
	for _, tc := range [][3]string{{"a", "a", ""}, {"a; b", "a", "b"}, {"a; b", "b", "a"}, {"a; b; c", "b", "a; c"}, {"a", "z", "a"}, {"a", "", "a"}, {"a; " + why, why, "a"}, {why + "; a", why, "a"}} {
		if got := WithoutQuestion(tc[0], tc[1]); got != tc[2] {
			t.Errorf("%q without %q: %q", tc[0], tc[1], got)
		}
	}
}

func TestIDs(t *testing.T) {
	d := routes.Descent{StartM: 4724}
	if got := DescentID("pass", &d); got != "pass-f-4.7" {
		t.Error(got)
	}
	d.Direction = routes.Backward
	if got := DescentID("pass", &d); got != "pass-b-4.7" {
		t.Error(got)
	}
	for want, r := range map[string]RouteRecord{"name": {Name: "Name", Ref: "R", ID: "I"}, "r": {Name: "日本", Ref: "R", ID: "I"}, "i": {ID: "I"}, "route": {ID: "!"}} {
		if got := r.ShortName(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := Slug(strings.Repeat("abc ", 40)); len(got) > 41 || len(got) < 39 {
		t.Errorf("%d characters", len(got))
	}
	if got, err := FirstFree("a", "-", func(s string) (bool, error) { return s == "a" || s == "a-2", nil }); got != "a-3" || err != nil {
		t.Errorf("%s, %v", got, err)
	}
}

// On a new line places are compared in metres at their latitude: half of the equator's
// to a degree of longitude at 60 degrees, along a slanting road too.
func TestPlacesFarNorth(t *testing.T) {
	const degreeM = 111320 * 0.5
	slanting := func(eastM, northM float64) catalog.Entry {
		e := hillAt(1000)
		for i := range e.Line {
			e.Line[i].LonDeg = 10 + (400*float64(i)+eastM)/degreeM
			e.Line[i].LatDeg = 60 + (300*float64(i)+northM)/110574
		}
		e.Descent.CrestLonDeg, e.Descent.CrestLatDeg = e.Line[0].LonDeg, e.Line[0].LatDeg
		e.Descent.FootLonDeg, e.Descent.FootLatDeg = e.Line[8].LonDeg, e.Line[8].LatDeg
		return e
	}
	old := &Stored{Entry: slanting(0, 0)}
	old.Descent.ID = "x"
	for _, tc := range []struct {
		eastM, northM float64
		same          bool
	}{{0, 0, true}, {-0.6 * 57, 0.8 * 57, true}, {-0.6 * 64, 0.8 * 64, false}, {-120, 160, false}, {120, -160, false}} {
		if got := len(Match([]*Stored{old}, []catalog.Entry{slanting(tc.eastM, tc.northM)}, false)) == 1; got != tc.same {
			t.Errorf("%.0f m east, %.0f m north: %v", tc.eastM, tc.northM, got)
		}
	}
	for eastM, moved := range map[float64]bool{59: false, 62: true} {
		n := slanting(eastM, 0)
		if got := len(shifts(old, &n, false)) > 0; got != moved {
			t.Errorf("crest and foot %.0f m east: moved %v", eastM, got)
		}
	}
}

func TestSmallWords(t *testing.T) {
	if GoneQuestion("") != "" || GoneQuestion(first) != "no longer found since the survey of 2026-03-04" {
		t.Error(GoneQuestion(first))
	}
	for _, ch := range []Changes{{Added: []string{"a"}}, {Updated: []string{"a"}}, {Moved: []Move{{}}}, {Gone: []string{"a"}}, {Back: []string{"a"}}, {Questioned: []Question{{}}}} {
		if !ch.Any() {
			t.Errorf("%+v changes nothing", ch)
		}
	}
	if ch := (Changes{Same: []string{"a"}, Descents: []string{"a"}}); ch.Any() {
		t.Error("the same is a change")
	}
	surveyed := catalog.Review{State: catalog.Surveyed, By: "A"}
	if got := MergeReviews(surveyed, catalog.Review{State: catalog.Retired, By: "B"}, Undecided, Knowledge{}); got.Review.State != catalog.Retired {
		t.Errorf("%+v", got)
	}
}
