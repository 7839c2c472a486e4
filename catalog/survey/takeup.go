package survey

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/store"
)

// An interrupted survey leaves its journal next to the catalogue. The next survey takes over the
// finished routes from it if all inputs are the same: the journal has a fingerprint of them
// (journalHead.Setup), each route has a key made from that fingerprint and its line and tags, and
// the catalogue must still hold the saved figures. Other routes are surveyed again.

// journalHead is the first record of a journal.
type journalHead struct {
	Format string    `json:"format"`
	Setup  string    `json:"setup"` // fingerprint of everything but the route that the results depend on
	Files  []string  `json:"files"`
	Part   string    `json:"shard"`
	At     time.Time `json:"at"`
}

const journalFormat = "gradeline survey 2"

// recordFacts is the part of a record that is not in the answer.
type recordFacts struct {
	Key      string          `json:"key"` // empty: never taken over
	Route    string          `json:"route"`
	Sum      catalogSum      `json:"sum"`
	Gaps     []string        `json:"gaps"`
	SkipGaps []string        `json:"skip_gaps"`
	Waiting  []string        `json:"waiting"`
	Warnings []string        `json:"warnings"`
	Places   [][2]float64    `json:"places_deg"`
	Nodes    routeNodes      `json:"nodes"`
	Rows     []catalog.Entry `json:"rows"` // for Worst

	Steep     []catalog.SteepPart `json:"steep_parts"` // for SteepParts
	PossibleM float64             `json:"possible_steep_m"`
	Failed    bool                `json:"failed"`
}

// finishedRoute is the place of a route's record in the journal of an earlier run.
type finishedRoute struct {
	journal *journal
	offset  int64
	nodes   []nodeHeight // of a road of a network
}

// earlierRuns holds the results of earlier runs of the same survey.
type earlierRuns struct {
	journals []*journal
	began    time.Time // when the first of them began
	finished map[string]finishedRoute
}

// openEarlierRuns finds the journals of the same survey next to the catalogue, and in them the
// routes that the catalogue still holds unchanged.
func openEarlierRuns(ctx context.Context, cat *store.Catalog, head journalHead) (*earlierRuns, error) {
	e := &earlierRuns{finished: map[string]finishedRoute{}}
	for _, path := range journalsBeside(cat.LocalPath()) {
		j := reopenJournal(path)
		if j == nil {
			continue
		}
		h, err := j.readHead()
		if err != nil || h.Format != journalFormat || h.Setup != head.Setup || !slices.Equal(h.Files, head.Files) {
			j.closeKeepingFile()
			continue
		}
		e.journals = append(e.journals, j)
		if e.began.IsZero() || h.At.Before(e.began) {
			e.began = h.At
		}
	}
	if len(e.journals) == 0 {
		return e, nil
	}
	sums, err := catalogSums(ctx, cat)
	for _, j := range e.journals {
		if err == nil {
			err = e.findFinished(ctx, j, sums)
		}
	}
	if err != nil {
		e.closeKeepingFiles()
		return nil, err
	}
	return e, nil
}

// findFinished notes the routes of one journal that the catalogue still holds unchanged.
func (e *earlierRuns) findFinished(ctx context.Context, j *journal, sums map[string]catalogSum) error {
	for offset, err := range j.offsets() {
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return err
		}
		if offset == 0 {
			continue // the head
		}
		b, err := j.readPart(offset, partFacts)
		if err != nil {
			return err
		}
		var f recordFacts
		if json.Unmarshal(b, &f) == nil && f.Key != "" {
			if now, ok := sums[f.Route]; ok && now == f.Sum {
				done := finishedRoute{journal: j, offset: offset}
				if f.Nodes.Road != "" {
					done.nodes = f.Nodes.Heights
				}
				e.finished[f.Key] = done
			}
		}
	}
	return nil
}

func (e *earlierRuns) closeKeepingFiles() {
	for _, j := range e.journals {
		j.closeKeepingFile()
	}
}

func (e *earlierRuns) removeFiles() {
	for _, j := range e.journals {
		j.remove()
	}
}

// readHead reads the first record.
func (j *journal) readHead() (h journalHead, err error) {
	b, err := j.readPart(0, partFacts)
	if err != nil {
		return h, err
	}
	return h, json.Unmarshal(b, &h)
}

// startJournal creates the journal: next to the catalogue if a later run can continue it, otherwise
// without a name.
func startJournal(catalogPath string, head journalHead) (*journal, error) {
	path := ""
	if catalogPath != "" && head.Setup != "" {
		for n := 1; ; n++ {
			path = fmt.Sprintf("%s.%s-%d%s", catalogPath, head.Setup[:8], n, unfinishedExt)
			if _, err := os.Lstat(path); err != nil {
				break
			}
		}
	}
	j, err := newJournal(path)
	if err != nil {
		return nil, err
	}
	if err := j.append(&record{partFacts: []byte(mustJSON(head))}); err != nil {
		j.remove()
		return nil, err
	}
	return j, nil
}

// dropJournals removes the journals that a finished survey makes useless: those of its route files
// and part.
func dropJournals(catalogPath string, head journalHead) {
	for _, path := range journalsBeside(catalogPath) {
		j := reopenJournal(path)
		if j == nil {
			continue
		}
		if h, err := j.readHead(); err == nil && h.Part == head.Part && slices.Equal(h.Files, head.Files) {
			j.remove()
			continue
		}
		j.closeKeepingFile()
	}
}

// absolute makes paths that name the same files from any folder.
func absolute(paths []string) []string {
	var out []string
	for _, p := range paths {
		if abs, err := filepath.Abs(p); err == nil && p != "-" {
			p = abs
		}
		out = append(out, p)
	}
	return out
}
