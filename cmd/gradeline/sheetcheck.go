package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/page"
)

// checkPage reports whether a printed page still matches the catalogue.
func (s *session) checkPage(c *cli.Context) error {
	mark := c.String("check")
	if !page.IsFingerprint(mark) {
		return usagef("--check %q: a page's fingerprint is eight letters and figures, as in K7QF-2M9D", mark)
	}
	day, err := weather(c, false)
	if err != nil {
		return err
	}
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	found, err := answer.FindPage(c.Context, cat, mark, classes, day)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.out, found)
	return err
}
