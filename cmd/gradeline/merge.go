package main

import (
	"fmt"
	"sort"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
)

func (s *session) mergeCommand() *cli.Command {
	return &cli.Command{
		Name: "merge", Usage: "bring what another catalogue holds into this one, conflicts shown",
		ArgsUsage: "OTHER.gpkg",
		Flags: []cli.Flag{catalogFlag(),
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.BoolFlag{Name: "take-theirs", Usage: "where surveys or sites differ, take the other's; of two review states the stricter holds"},
			&cli.StringSliceFlag{Name: "theirs", Usage: "take the other's survey and review of this `DESCENT`; may be repeated"},
			&cli.StringSliceFlag{Name: "ours", Usage: "keep this catalogue's survey and review of this `DESCENT`; may be repeated"},
			&cli.BoolFlag{Name: "dry-run", Usage: "say what would change, write nothing"},
			jsonFlag()},
		Action: s.merge,
	}
}

type mergeAnswer struct {
	Schema string `json:"schema"`
	store.MergeReport
}

func (s *session) merge(c *cli.Context) error {
	if err := argCount(c, 1, 1, "the file of the other catalogue"); err != nil {
		return err
	}
	theirs, err := store.Open(c.Context, c.Args().First(), store.Options{ReadOnly: true})
	if err != nil {
		return err
	}
	defer theirs.Close()
	ours, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer ours.Close()
	r, err := store.Merge(c.Context, ours, theirs, store.MergeOptions{DryRun: c.Bool("dry-run"), By: c.String("by"), TakeTheirs: c.Bool("take-theirs"),
		TakeTheirsFor: c.StringSlice("theirs"), KeepOursFor: c.StringSlice("ours")})
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return s.printJSON(mergeAnswer{catalog.Schema, r})
	}
	t := table.Table{Title: fmt.Sprintf("new: %s and %s; %s the same; %s and %s came over", counted(len(r.Routes), "road"), counted(len(r.Added), "descent"), counted(len(r.Same), "descent"), counted(len(r.Reviews), "review"), counted(len(r.Sites), "site")),
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
	if c.Bool("dry-run") {
		t.Notes = append(t.Notes, "Nothing was written.")
	}
	return table.WriteText(s.out, t)
}

// counted is "1 road" or "2 roads".
func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
