package store

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// mergeOffice is a catalogue of a random history, with what its people know.
type mergeOffice struct {
	c    *Catalog
	knew [2]map[string]bool // reviews, by the name of who made them, for each hill
}

// mergeHistory makes a random history of several offices: surveys, reviews, decisions, sites, merges.
type mergeHistory struct {
	t     *testing.T
	r     *rand.Rand
	now   time.Time
	list  []*mergeOffice
	knew  map[string]map[string]bool // what somebody knew who made a review, for the same hill
	state map[string]catalog.ReviewState
	count int
	log   []string
}

const mergedRoad = "Heron Pass"

// hillIDs are the two hills of the road.
var hillIDs = [2]string{"heron-pass-f-1.0", "heron-pass-f-11.0"}

// mergeSurvey is a survey of the road: its second hill is held or not by the heavy class, at one of
// several speeds; its first one may begin elsewhere, so that a reviewed one waits.
func (o *mergeHistory) mergeSurvey(isFirst bool) RouteSurvey {
	rs := survey(mergedRoad, 2)
	rs.Entries[1].Holds[1].Holds = o.r.IntN(2) == 0
	rs.Entries[1].Holds[1].SpeedMPS = float64(6 + o.r.IntN(3))
	if !isFirst && o.r.IntN(3) == 0 { // beyond its bounds
		e := &rs.Entries[0]
		e.Descent.StartM, e.Descent.LengthM, e.Line = e.Descent.StartM+300, e.Descent.LengthM-300, e.Line[1:]
	}
	return rs
}

func (o *mergeHistory) person() string {
	o.count++
	return fmt.Sprintf("P%d.", o.count)
}

// step does something at random in one office, or merges one into another.
func (o *mergeHistory) step() {
	o.now = o.now.Add(time.Duration(1+o.r.IntN(3)) * time.Hour)
	x := o.list[o.r.IntN(len(o.list))]
	hill := o.r.IntN(2)
	switch k := o.r.IntN(12); {
	case k < 4:
		o.review(x, hill)
	case k == 4:
		save(o.t, x.c, o.mergeSurvey(false), SaveOptions{By: "S."})
	case k == 5:
		o.decide(x)
	case k == 6:
		if _, err := x.c.AddSites(ctx, []catalog.Site{{ID: fmt.Sprint("ramp-", o.r.IntN(2)), Kind: catalog.EscapeRamp, Point: terrain.Point{LonDeg: -110, LatDeg: 40}}}, "S."); err != nil {
			o.t.Fatal(err)
		}
	case k == 7:
		_ = x.c.RemoveSite(ctx, fmt.Sprint("ramp-", o.r.IntN(2)), "S.", "torn down") // an error where there is none
	default:
		y := o.list[o.r.IntN(len(o.list))]
		if y != x {
			o.merge(x, y)
		}
	}
}

func (o *mergeHistory) review(x *mergeOffice, hill int) {
	by := o.person()
	r := catalog.Review{State: reviewStates[o.r.IntN(len(reviewStates))], By: by, Note: "seen; driven"}
	if o.r.IntN(4) == 0 {
		pct := 6 + 3*o.r.Float64()
		r.MeasuredGradePct = &pct
	}
	if err := x.c.Review(ctx, hillIDs[hill], r); err != nil {
		return // a newer survey waits
	}
	o.log = append(o.log, fmt.Sprintf("%s reviews hill %d as %s", by, hill, r.State))
	o.knew[by], o.state[by] = map[string]bool{}, r.State
	for other := range x.knew[hill] {
		o.knew[by][other] = true
	}
	x.knew[hill][by] = true
}

func (o *mergeHistory) decide(x *mergeOffice) {
	list, err := x.c.Proposals(ctx)
	if err != nil {
		o.t.Fatal(err)
	}
	for _, p := range list {
		if o.r.IntN(2) == 0 {
			err = x.c.Accept(ctx, p.ID, "S.")
		} else {
			err = x.c.Refuse(ctx, p.ID, "S.", "no")
		}
		if err != nil {
			o.t.Fatal(err)
		}
	}
}

// merge merges y into x and checks what became of each hill.
func (o *mergeHistory) merge(x, y *mergeOffice) MergeReport {
	before, theirs, waited := all(o.t, x.c), all(o.t, y.c), o.waiting(x)
	by := o.person()
	rep, err := Merge(ctx, x.c, y.c, MergeOptions{By: by})
	if err != nil {
		o.t.Fatal(err)
	}
	o.log = append(o.log, fmt.Sprintf("%s merges %d into %d", by, slices.Index(o.list, y), slices.Index(o.list, x)))
	after := all(o.t, x.c)
	for hill, id := range hillIDs {
		a, b, got := before[id], theirs[id], after[id]
		if a.Descent.ID != "" {
			o.checkState(hill, a.Review, b.Review, got.Review)
			o.checkSurvey(x, &a, &b, &got, waited[id])
		}
		o.checkTold(x, id, a.Review)
		o.checkTold(x, id, b.Review)
		for other := range y.knew[hill] {
			x.knew[hill][other] = true
		}
	}
	for _, f := range rep.Conflicts {
		if f.Ours == "" || f.Theirs == "" {
			o.t.Fatalf("a conflict without its two sides: %+v\n%s", f, o.history())
		}
	}
	return rep
}

// checkState fails where a laxer state holds that nobody chose in knowledge of the stricter one.
func (o *mergeHistory) checkState(hill int, a, b, got catalog.Review) {
	strict := func(r *catalog.Review) int {
		return slices.Index([]catalog.ReviewState{catalog.Approved, catalog.FieldChecked, catalog.Surveyed, catalog.Retired}, r.State)
	}
	if a.By == "" || b.By == "" || a.By == b.By { // a review that nobody made gives way
		if want := a.By + b.By; a.By != b.By && got.By != want {
			o.t.Fatalf("hill %d: the only review was %s's, now %+v\n%s", hill, want, got, o.history())
		}
		return
	}
	stricter, laxer := &a, &b
	if strict(&b) > strict(&a) {
		stricter, laxer = &b, &a
	}
	switch isDecided := o.knew[laxer.By][stricter.By]; {
	case strict(&got) < strict(stricter) && !isDecided:
		o.t.Fatalf("hill %d: %s by %s gave way to %s by %s, who did not know it\n%s", hill, stricter.State, stricter.By, got.State, got.By, o.history())
	case a.State == b.State || got.By == laxer.By && isDecided || got.By == stricter.By && o.knew[stricter.By][laxer.By]:
	case !strings.Contains(got.InQuestion, laxer.By):
		o.t.Fatalf("hill %d: %s by %s holds, and what %s said is not in question: %q\n%s", hill, got.State, got.By, laxer.By, got.InQuestion, o.history())
	}
}

// checkSurvey fails where a more dangerous survey of theirs neither waits nor was refused.
func (o *mergeHistory) checkSurvey(x *mergeOffice, a, b, got *catalog.Entry, waited *catalog.Entry) {
	if resurvey.WorseNews(got, b) == "" {
		return
	}
	w := o.waiting(x)[a.Descent.ID]
	if w != nil && (resurvey.WorseNews(w, b) == "" || waited != nil) {
		return
	}
	list, err := x.c.History(ctx, a.Descent.ID)
	if err != nil {
		o.t.Fatal(err)
	}
	for i := range list {
		if list[i].What == refusedEvent {
			return
		}
	}
	o.t.Fatalf("%s: a more dangerous survey was dropped: %s\n%s", a.Descent.ID, resurvey.WorseNews(got, b), o.history())
}

func (o *mergeHistory) waiting(x *mergeOffice) map[string]*catalog.Entry {
	list, err := x.c.Proposals(ctx)
	if err != nil {
		o.t.Fatal(err)
	}
	out := map[string]*catalog.Entry{}
	for i := range list {
		out[list[i].ID] = &list[i].Entry
	}
	return out
}

// checkTold fails where a catalogue does not say who gave a review, and when.
func (o *mergeHistory) checkTold(x *mergeOffice, id string, r catalog.Review) {
	if r.By == "" {
		return
	}
	list, err := x.c.History(ctx, id)
	if err != nil {
		o.t.Fatal(err)
	}
	for i := range list {
		if list[i].names(&r) {
			return
		}
	}
	o.t.Fatalf("%s: nothing says that %s\n%s", id, resurvey.ReviewMark(&r), o.history())
}

func (o *mergeHistory) history() string { return strings.Join(o.log, "\n") }

// settle merges until every office knows all, and checks that they agree and nothing changes any more.
func (o *mergeHistory) settle() {
	round := func() (last []MergeReport) {
		for _, x := range o.list {
			for _, y := range o.list {
				if x != y {
					last = append(last, o.merge(x, y))
				}
			}
		}
		return last
	}
	round()
	round()
	before := all(o.t, o.list[0].c)
	for _, rep := range round() {
		if len(rep.Reviews)+len(rep.Added)+len(rep.Routes) > 0 {
			o.t.Fatalf("merged three times, and still %+v\n%s", rep, o.history())
		}
	}
	for i, x := range o.list {
		now := all(o.t, x.c)
		for _, id := range hillIDs {
			a, b := before[id].Review, now[id].Review
			if a.State != b.State {
				o.t.Fatalf("%s is %s by %s in the first catalogue, %s by %s in %d\n%s", id, a.State, a.By, b.State, b.By, i, o.history())
			}
		}
		if i == 0 && !reflect.DeepEqual(before, now) {
			o.t.Fatalf("merged again, and the catalogue is another\n%s", o.history())
		}
		if f, err := x.c.Doctor(ctx); err != nil || len(f) > 0 {
			o.t.Fatalf("doctor: %+v %v\n%s", f, err, o.history())
		}
	}
}

// randomHistories runs random histories of two or three offices with catalogues made by open.
func randomHistories(t *testing.T, seed uint64, count int, open func(*mergeHistory) *Catalog) {
	for k := range count {
		o := &mergeHistory{t: t, r: rand.New(rand.NewPCG(seed, uint64(k))), now: clock(), knew: map[string]map[string]bool{}, state: map[string]catalog.ReviewState{}}
		o.log = append(o.log, fmt.Sprintf("seed %d, history %d", seed, k))
		for i := range 2 + o.r.IntN(2) {
			x := &mergeOffice{c: open(o), knew: [2]map[string]bool{{}, {}}}
			o.list = append(o.list, x)
			if i < 2 || o.r.IntN(2) == 0 {
				save(t, x.c, o.mergeSurvey(true), SaveOptions{By: "S."})
			} else {
				o.merge(x, o.list[0])
			}
		}
		for range 10 {
			o.step()
		}
		o.settle()
		for _, x := range o.list {
			x.c.Close()
		}
	}
}

var mergeHistories = flag.Int("merge.histories", 30, "random histories of TestMergesOfRandomHistories")

// The same where the catalogues are in a database.
func TestMergesOfRandomHistoriesShared(t *testing.T) {
	if testing.Short() {
		t.Skip("several seconds")
	}
	randomHistories(t, 18, 3, func(o *mergeHistory) *Catalog {
		return openWith(t, inDatabase(t).Address(), func() time.Time { return o.now })
	})
}

// Whatever offices survey, review and merge, in any order: the stricter state holds until a person who
// knows it decides, everything is told with who and when, and in the end all agree.
func TestMergesOfRandomHistories(t *testing.T) {
	const seed = 17
	count := *mergeHistories
	if testing.Short() {
		count = min(count, 10)
	}
	c, empty := fresh(t)
	c.Close()
	whole, err := os.ReadFile(empty)
	if err != nil {
		t.Fatal(err)
	}
	folder, n := t.TempDir(), 0
	randomHistories(t, seed, count, func(o *mergeHistory) *Catalog {
		n++
		path := filepath.Join(folder, fmt.Sprintf("%d.gpkg", n))
		if err := os.WriteFile(path, whole, 0o600); err != nil {
			t.Fatal(err)
		}
		return openWith(t, path, func() time.Time { return o.now })
	})
}

// openWith opens or creates a catalogue that has another clock than those of other tests.
func openWith(t *testing.T, path string, now func() time.Time) *Catalog {
	c, err := Open(ctx, path, Options{Create: true, Tool: "gradeline test", Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}
