package survey

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/routes/network"
)

// The results of a job are read after Run and before Close.

// Count is the number of routes surveyed, and of those that an earlier run had finished.
func (j *Job) Count() (surveyed, takenOver int) { return j.routes, j.takenOver }

// Began is when the survey began; for a continued survey, when its first run began.
func (j *Job) Began() time.Time { return j.head.At }

// Memory says in words how many workers there are and how the memory is divided.
func (j *Job) Memory() string { return j.memory.words() }

// Catalog is the catalogue's file, or its address without a password; empty where none was opened.
func (j *Job) Catalog() string {
	if j.cat == nil {
		return ""
	}
	return j.cat.Path()
}

// IsStored reports whether the results are in the catalogue.
func (j *Job) IsStored() bool { return j.cat != nil && !j.setup.DryRun }

// HowToContinue says what to do after Run failed or was interrupted; empty where no finished route is
// kept.
func (j *Job) HowToContinue() string {
	if j.isFinished || j.journal == nil || j.journal.path == "" || j.routes == 0 {
		return ""
	}
	return "what was stored before is kept: run the same command again, and the survey continues there"
}

// NotKept is why routes that were finished could not be committed; nil where they were.
func (j *Job) NotKept() error { return j.notKept }

// Warnings are the sorted warnings of the terrain's readers, then the pairs of rasters at different
// heights.
func (j *Job) Warnings() []string { return j.warnings }

// Unread lists the features of the road files that made no route.
func (j *Job) Unread() []routes.Skipped { return j.unread }

// Network sums up the road files and their joining.
func (j *Job) Network() *network.Summary {
	if j.network == nil {
		return &network.Summary{}
	}
	return j.network
}

// Worst lists the most dangerous descents, at most MostListed, with the advice for the heaviest
// class only, and the number of all descents. It is empty for a job with KeepAll.
func (j *Job) Worst() (list []catalog.Entry, found int) {
	j.worst.cut()
	for i := range j.worst.entries {
		j.flagContradicted(&j.worst.entries[i].Descent)
	}
	return j.worst.entries, j.worst.found
}

// Routes yields what was found of each route. The job must keep all.
func (j *Job) Routes() iter.Seq2[RouteFacts, error] {
	return changed(decoded[RouteFacts](j, partRoute), j.addDoubts)
}

// Descents yields the descents with their advice, in the order of the routes. The job
// must keep all.
func (j *Job) Descents() iter.Seq2[DescentFacts, error] {
	return changed(decoded[DescentFacts](j, partDescents), func(d *DescentFacts) { j.flagContradicted(&d.Descent) })
}

// Skipped yields what could not be surveyed or advised. The job must keep all.
func (j *Job) Skipped() iter.Seq2[routes.Skipped, error] {
	return decoded[routes.Skipped](j, partSkipped)
}

// Changes yields what each route changed in the catalogue. The job must keep all.
func (j *Job) Changes() iter.Seq2[store.Changes, error] {
	return decoded[store.Changes](j, partChanges)
}

// decoded reads the elements of one part of every record.
func decoded[T any](j *Job, p part) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		var none T
		for b, err := range j.journal.parts(p) {
			var list []T
			if err == nil {
				if err = json.Unmarshal(slices.Concat([]byte{'['}, b, []byte{']'}), &list); err != nil {
					err = journalFault(j.journal.path, err)
				}
			}
			if err != nil {
				yield(none, err)
				return
			}
			for i := range list {
				if !yield(list[i], nil) {
					return
				}
			}
		}
	}
}

// Members are lists of the answer that the journal keeps as JSON text.
type Members int

// The lists.
const (
	MembersRoutes Members = iota
	MembersDescents
	MembersSkipped
	MembersChanges
)

// JSON yields the elements of a list as JSON text, those of one route at a time with
// commas between. The job must keep all.
func (j *Job) JSON(m Members) iter.Seq2[[]byte, error] {
	if len(j.doubts) > 0 {
		switch m {
		case MembersRoutes:
			return encoded(j.Routes())
		case MembersDescents:
			return encoded(j.Descents())
		}
	}
	return j.journal.parts([]part{partRoute, partDescents, partSkipped, partChanges}[m])
}

// Gaps yields in words what is missing from the answer or waits for a person: in the routes, the
// files, the advice, the catalogue and the terrain.
func (j *Job) Gaps() iter.Seq2[string, error] {
	return func(yield func(string, error) bool) {
		isOn := true
		give := func(list []string) {
			for _, g := range list {
				isOn = isOn && yield(g, nil)
			}
		}
		each := func(of func(f *recordFacts) []string) {
			if !isOn {
				return
			}
			for f, err := range decoded[recordFacts](j, partFacts) {
				if err != nil {
					isOn = false
					yield("", err)
				} else {
					give(of(&f))
				}
				if !isOn {
					return
				}
			}
		}
		each(func(f *recordFacts) []string { return f.Gaps })
		give(SkipGaps(j.unread))
		each(func(f *recordFacts) []string { return f.SkipGaps })
		each(func(f *recordFacts) []string { return f.Waiting })
		give(j.nodeCheck.gaps)
		give(j.steps)
	}
}

// SkipGaps list the skipped features in words.
func SkipGaps(list []routes.Skipped) []string {
	var out []string
	for _, k := range list {
		out = append(out, fmt.Sprintf("%s: skipped: %s", k.Where, k.Why))
	}
	return out
}

// MostListed is the number of descents in Worst; the catalogue has the rest.
const MostListed = 2000

// worstEntries keeps the most dangerous of many entries.
type worstEntries struct {
	entries []catalog.Entry
	found   int
}

func (w *worstEntries) add(es ...catalog.Entry) {
	w.found += len(es)
	w.entries = append(w.entries, es...)
	if len(w.entries) > 2*MostListed {
		w.cut()
	}
}

func (w *worstEntries) cut() {
	slices.SortStableFunc(w.entries, catalog.CompareDanger)
	if len(w.entries) > MostListed {
		w.entries = append([]catalog.Entry(nil), w.entries[:MostListed]...)
	}
}

// brief keeps only what Worst lists, so that memory stays small over a network.
func brief(e *catalog.Entry) catalog.Entry {
	t := catalog.Entry{Descent: e.Descent, Provenance: catalog.Provenance{Invented: e.Provenance.Invented}}
	if h := catalog.Heaviest(e.Holds); h != nil {
		t.Holds = []catalog.Hold{{Class: h.Class, MassKg: h.MassKg, Holds: h.Holds, Gear: h.Gear, GearName: h.GearName, Stage: h.Stage, Levers: h.Levers,
			SpeedMPS: h.SpeedMPS, SurfacesOut: h.SurfacesOut, Weather: h.Weather}}
	}
	return t
}
