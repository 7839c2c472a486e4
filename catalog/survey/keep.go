package survey

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

// recordOf stores a result in the catalogue and makes its record of the journal; for a
// route that an earlier run has finished it is that run's record.
func (j *Job) recordOf(ctx context.Context, r *Result) (*record, *recordFacts, error) {
	if r.earlier != nil {
		return j.earlierRecord(r.earlier)
	}
	rec, facts := &record{}, &recordFacts{}
	skipped := r.Skipped
	if r.Err != nil {
		if j.failed == nil {
			j.failed = r.Err
		}
		facts.Failed = true
		skipped = []routes.Skipped{{Where: fmt.Sprintf("%s, route %q", r.Route.Place, r.Route.ID), Why: wording.OneLine(r.Err.Error())}}
		if errors.Is(r.Err, terrain.ErrVoid) {
			skipped[0].MissingM = r.Route.LengthM
		}
	} else {
		saved, err := j.save(ctx, r)
		if err == nil {
			err = j.saveNetworkRoad(ctx, r)
		}
		if err != nil {
			return nil, nil, err
		}
		if err := j.describe(r, saved, facts, rec); err != nil {
			return nil, nil, err
		}
	}
	if j.setup.KeepAll {
		rec[partSkipped] = joinJSON(skipped)
	}
	facts.SkipGaps = SkipGaps(skipped)
	for _, w := range j.terrainWarnings() {
		if !j.warned[w] {
			j.warned[w] = true
			facts.Warnings = append(facts.Warnings, w)
		}
	}
	rec[partFacts] = []byte(mustJSON(facts))
	return rec, facts, nil
}

// savedRoute is a route as the catalogue has stored it.
type savedRoute struct {
	road    store.RouteRecord
	entries []catalog.Entry // with their ids
	changes *store.Changes  // nil without a catalogue
}

// save stores a surveyed route; in a dry run without a catalogue it only names the
// descents.
func (j *Job) save(ctx context.Context, r *Result) (*savedRoute, error) {
	if j.batch == nil && !j.setup.DryRun {
		if err := j.openCatalog(ctx); err != nil {
			return nil, err
		}
	}
	p := r.prepared
	s := &savedRoute{road: p.survey.Route}
	if j.batch == nil {
		s.entries = slices.Clone(r.Entries)
		j.namer.NameDescents(&s.road, s.entries)
		return s, nil
	}
	ch, err := j.batch.SavePacked(ctx, p.survey, p.packed)
	if err != nil {
		return nil, err
	}
	s.changes, s.entries, s.road.ID, s.road.SurveyedAt = &ch, ch.Stored, ch.Route, ch.At
	return s, nil
}

// describe fills the record of a surveyed route.
func (j *Job) describe(r *Result, saved *savedRoute, facts *recordFacts, rec *record) error {
	found, foundText := j.factsFor(r.prepared, saved.road.ID)
	facts.Gaps = found.Gaps()
	facts.Nodes, facts.Places = routeNodes{Route: saved.road.ID, Heights: r.prepared.nodes}, r.prepared.places
	if r.network != 0 {
		facts.Nodes.Road = r.Route.ID
	}
	if saved.changes != nil {
		facts.Waiting = waitingFor(saved.changes)
		if j.head.Setup != "" {
			facts.Key, facts.Route = routeKey(j.head.Setup, r.network, &r.Route), saved.road.ID
			facts.Sum.addRoute(&saved.road)
			for i := range saved.entries {
				facts.Sum.addDescent(&saved.entries[i].Descent, saved.entries[i].Holds)
			}
		}
	}
	if j.setup.KeepAll {
		rec[partRoute], rec[partDescents] = foundText, r.prepared.descentsJSON(saved.entries)
		if saved.changes != nil {
			rec[partChanges] = plainJSON(saved.changes)
		}
	} else {
		for i := range saved.entries {
			facts.Rows = append(facts.Rows, brief(&saved.entries[i]))
		}
		facts.Steep, facts.PossibleM = briefParts(r.SteepParts), r.PossibleSteepM
	}
	if j.setup.KeepProfile {
		rows, err := r.prepared.rowsFor(saved.road.ID, &r.Route)
		if err != nil {
			return err
		}
		rec[partProfile] = rows
	}
	return nil
}

// earlierRecord returns the record of an earlier run.
func (j *Job) earlierRecord(from *finishedRoute) (*record, *recordFacts, error) {
	rec, err := from.journal.readRecord(from.offset)
	if err != nil {
		return nil, nil, err
	}
	var facts recordFacts
	if err := json.Unmarshal(rec[partFacts], &facts); err != nil {
		return nil, nil, journalFault(from.journal.path, err)
	}
	j.takenOver++
	for _, w := range facts.Warnings {
		j.warned[w] = true
	}
	return rec, &facts, nil
}

// addRecord appends a route's record and updates the totals.
func (j *Job) addRecord(ctx context.Context, rec *record, facts *recordFacts) error {
	j.worst.add(facts.Rows...)
	j.steepest.add(facts.Steep, facts.PossibleM)
	j.stepCheck.addPlaces(facts.Places)
	j.noteRoad(&facts.Nodes)
	if err := j.markContradicted(ctx, j.nodeCheck.add(facts.Nodes.Route, facts.Nodes.Heights)); err != nil {
		return err
	}
	if !facts.Failed {
		j.routes++
		if facts.Nodes.Road == "" {
			j.drawn++
		}
	}
	if j.setup.OnRoute != nil {
		j.setup.OnRoute(j.routes)
	}
	return j.appendRecord(rec)
}

// appendRecord adds to the journal, which is created with the first record.
func (j *Job) appendRecord(rec *record) error {
	if j.journal == nil {
		path := ""
		if !j.setup.DryRun && j.cat != nil {
			path = j.cat.LocalPath()
		}
		var err error
		if j.journal, err = startJournal(path, j.head); err != nil {
			return err
		}
	}
	return j.journal.append(rec)
}

// waitingFor are the descents that this survey leaves to a person, in words.
func waitingFor(ch *store.Changes) []string {
	var out []string
	waits := map[string]bool{}
	for _, m := range ch.Moved {
		if !m.Taken {
			waits[m.ID] = true
			var what []string
			for _, s := range m.Shifts {
				what = append(what, s.String())
			}
			out = append(out, fmt.Sprintf("%s: reviewed, and moved beyond its bounds (%s); the reviewed figures are valid until gradeline review %s --accept or --refuse", m.ID, strings.Join(what, "; "), m.ID))
		}
	}
	for _, id := range ch.Gone {
		waits[id] = true
		out = append(out, id+": no longer found; kept until it is retired")
	}
	for _, q := range ch.Questioned {
		if waits[q.ID] {
			continue // said above
		}
		out = append(out, q.ID+": its review is in question: "+q.Why)
	}
	return out
}
