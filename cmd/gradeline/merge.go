package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/cmd/commandline"
)

func (s *session) mergeCommand() *cli.Command {
	return &cli.Command{
		Name: "merge", Usage: "merge another catalogue into this one and show the conflicts",
		ArgsUsage: "OTHER",
		Flags: []cli.Flag{catalogFlag(), classesFlag(),
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.BoolFlag{Name: "take-theirs", Usage: "where surveys or sites differ, use the other catalogue's; of two review states the stricter stays"},
			&cli.StringSliceFlag{Name: "theirs", Usage: "use the other catalogue's survey and review of this `DESCENT`; may be repeated"},
			&cli.StringSliceFlag{Name: "ours", Usage: "keep this catalogue's survey and review of this `DESCENT`; may be repeated"},
			&cli.BoolFlag{Name: "dry-run", Usage: "report the changes, write nothing"},
			jsonFlag()},
		Action: s.merge,
	}
}

func (s *session) merge(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 1, "the file or address of the other catalogue"); err != nil {
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
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	r, err := survey.Merge(c.Context, ours, theirs, store.MergeOptions{DryRun: c.Bool("dry-run"), By: c.String("by"), TakeTheirs: c.Bool("take-theirs"),
		TakeTheirsFor: c.StringSlice("theirs"), KeepOursFor: c.StringSlice("ours")}, classes)
	if err != nil {
		return err
	}
	if !c.Bool("dry-run") {
		s.stored = ours.Path()
	}
	return s.answer(c, answer.NewMerge(r, c.Bool("dry-run")), catalog.Metric)
}
