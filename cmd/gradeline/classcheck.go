package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/table"
)

// classCheckAnswer is what classes check --json prints.
type classCheckAnswer struct {
	Schema   string               `json:"schema"`
	Findings []holding.ClassCheck `json:"findings"`
}

// checkClasses reads a class file, which explains every fault, and says what
// its classes would be advised on three standard grades.
func (s *session) checkClasses(c *cli.Context, u catalog.Units) error {
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	found, err := holding.Check(classes, u)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return s.printJSON(classCheckAnswer{catalog.Schema, found})
	}
	t := table.Table{Title: fmt.Sprintf("%d classes, no fault. On standard grades:", len(classes)),
		Header: []string{"class", "mass", "grade", "length", "advice"}}
	for _, f := range found {
		if f.Hold == nil {
			t.Notes = append(t.Notes, f.Class+": "+f.Remark)
			continue
		}
		advice := "NOT HELD"
		if f.Hold.Holds {
			advice = fmt.Sprintf("gear %d, stage %d, %s (%s)", f.Hold.Gear, f.Hold.Stage, u.Speed(f.Hold.SpeedMPS), f.Hold.LimitedBy)
		}
		t.Rows = append(t.Rows, []any{f.Class, u.Mass(f.Hold.MassKg), fmt.Sprintf("%.0f %%", f.Grade.DowngradePct), u.Length(f.Grade.LengthM), advice})
	}
	return table.WriteText(s.out, t)
}
