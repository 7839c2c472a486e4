package answer

import (
	"fmt"
	"io"
	"sort"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// Merge is the result of a merge with another catalogue.
type Merge struct {
	Schema string `json:"schema"`
	store.MergeReport

	isDryRun bool
}

// NewMerge is the answer for a report.
func NewMerge(r store.MergeReport, isDryRun bool) *Merge {
	return &Merge{catalog.Schema, r, isDryRun}
}

// WriteText writes the counts and a line a conflict.
func (a *Merge) WriteText(w io.Writer, _ catalog.Units) error {
	r := &a.MergeReport
	t := table.Table{Title: fmt.Sprintf("new: %s and %s; %s unchanged; %s and %s copied", wording.Counted(len(r.Routes), "road"), wording.Counted(len(r.Added), "descent"), wording.Counted(len(r.Same), "descent"), wording.Counted(len(r.Reviews), "review"), wording.Counted(len(r.Sites), "site")),
		Header: []string{"descent or site", "what", "here", "there", "taken"}}
	for _, k := range r.Conflicts {
		taken := "kept ours"
		if k.Taken {
			taken = "took theirs"
		}
		t.Rows = append(t.Rows, []any{k.ID, k.What, k.Ours, k.Theirs, taken})
	}
	var renamed []string
	for theirID, ourID := range r.Renamed {
		renamed = append(renamed, fmt.Sprintf("%s is called %s here.", theirID, ourID))
	}
	sort.Strings(renamed)
	t.Notes = renamed
	if n := len(r.Drives); n > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("%s copied, which the next survey of these roads uses: see drives list.", wording.Counted(n, "recorded drive")))
	}
	if a.isDryRun {
		t.Notes = append(t.Notes, "Nothing was written.")
	}
	return table.WriteText(w, t)
}
