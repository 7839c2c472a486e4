package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/export"
	"gradeline/catalog/store"
)

func (s *session) listCommand() *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "descents in the catalogue, most dangerous first",
		UsageText: "gradeline list --units us\ngradeline list -o descents.xlsx --units us\ngradeline list --not-held-by us-5axle --bbox 10.9,46.9,11.6,47.4 --json",
		Flags:     append(filterFlags(), outFlag(), forceFlag(), jsonFlag(), unitsFlag()),
		Action:    s.list,
	}
}

// filterFlags choose descents of the catalogue.
func filterFlags() []cli.Flag {
	return []cli.Flag{
		catalogFlag(),
		&cli.StringFlag{Name: "route", Usage: "only of this `ROUTE`: id, name or number"},
		classFlag(),
		&cli.StringFlag{Name: "not-held-by", Usage: "only those that the weight class `ID` does not hold"},
		&cli.StringFlag{Name: "state", Usage: "only in this review `STATE`: surveyed, field-checked, approved or retired"},
		&cli.StringFlag{Name: "bbox", Usage: "only inside `WEST,SOUTH,EAST,NORTH` in degrees"},
		&cli.StringFlag{Name: "at-least", Usage: "only of at least this `LENGTH`, as in 2mi"},
		&cli.IntFlag{Name: "limit", Usage: "at most `N`"},
	}
}

func filter(c *cli.Context) (store.Filter, error) {
	f := store.Filter{Route: c.String("route"), Class: c.String("class"), NotHeldBy: c.String("not-held-by"),
		State: catalog.ReviewState(c.String("state")), Limit: c.Int("limit")}
	switch f.State {
	case "", catalog.Surveyed, catalog.FieldChecked, catalog.Approved, catalog.Retired:
	default:
		return f, usagef("--state %q is no review state; use surveyed, field-checked, approved or retired", f.State)
	}
	if f.Limit < 0 {
		return f, usagef("--limit %d: give a number from 1 up", f.Limit)
	}
	var err error
	if f.MinLengthM, _, err = quantityFlag(c, "at-least", catalog.LengthM); err != nil {
		return f, err
	}
	if b := c.String("bbox"); b != "" {
		box, err := boxFrom(b)
		if err != nil {
			return f, err
		}
		f.BBox = &box
	}
	return f, nil
}

// boxFrom reads west,south,east,north in degrees.
func boxFrom(text string) (store.Box, error) {
	parts := strings.Split(text, ",")
	var v [4]float64
	for i := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(parts[i]), 64)
		if len(parts) != 4 || err != nil || !(x >= -180 && x <= 180) {
			return store.Box{}, usagef("--bbox %q: give west,south,east,north in degrees, as in -105.5,39.1,-104.8,39.9", text)
		}
		v[i] = x
	}
	if len(parts) != 4 || v[1] > v[3] || v[1] < -90 || v[3] > 90 {
		return store.Box{}, usagef("--bbox %q: south must not be north of north, and both within 90 degrees; are longitude and latitude swapped?", text)
	}
	return store.Box{WestDeg: v[0], SouthDeg: v[1], EastDeg: v[2], NorthDeg: v[3]}, nil
}

// openCatalog opens the catalogue for reading.
func openCatalog(c *cli.Context) (*store.Catalog, error) {
	return store.Open(c.Context, c.String("catalog"), store.Options{ReadOnly: true, Tool: "gradeline " + version})
}

// chosen opens the catalogue and reads the descents that the flags choose; the
// caller closes it.
func chosen(c *cli.Context) (*store.Catalog, []catalog.Entry, error) {
	f, err := filter(c)
	if err != nil {
		return nil, nil, err
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, nil, err
	}
	var es []catalog.Entry
	if err = known(c, cat); err == nil {
		es, err = cat.Descents(c.Context, f)
	}
	if err != nil {
		cat.Close()
		return nil, nil, err
	}
	return cat, es, nil
}

// entries reads the descents that the flags choose.
func entries(c *cli.Context) ([]catalog.Entry, error) {
	cat, es, err := chosen(c)
	if err == nil {
		err = cat.Close()
	}
	return es, err
}

// known refuses a filter by a route or class that the catalogue has never heard
// of: an empty answer would read as an all-clear.
func known(c *cli.Context, cat *store.Catalog) error {
	if want := c.String("route"); want != "" {
		rs, err := cat.Routes(c.Context)
		if err != nil {
			return err
		}
		var names []string
		for _, r := range rs {
			names = append(names, r.ID, r.Name, r.Ref)
		}
		if !slices.Contains(names, want) {
			return usagef("the catalogue has no route %q%s", want, didYouMean(want, names))
		}
	}
	for _, flag := range []string{"class", "not-held-by"} {
		want := c.String(flag)
		if want == "" {
			continue
		}
		ids, err := cat.ClassIDs(c.Context)
		if err != nil {
			return err
		}
		if !slices.Contains(ids, want) {
			return usagef("--%s: the catalogue has no answer for a class %q%s; it has %s", flag, want, didYouMean(want, ids), listed(ids))
		}
	}
	return nil
}

// routeGaps are the surveyed roads of which not all is known, in words: a hill
// there may be missing from every list.
func routeGaps(c *cli.Context) ([]string, error) {
	cat, err := openCatalog(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	rs, err := cat.Routes(c.Context)
	if err != nil {
		return nil, err
	}
	out := []string{}
	for _, r := range rs {
		if want := c.String("route"); want != "" && want != r.ID && want != r.Name && want != r.Ref {
			continue
		}
		if !r.Reliable {
			out = append(out, fmt.Sprintf("%s: unreliable: %s", r.ID, r.Unreliable))
		}
		if r.MissingM > 0.5 {
			out = append(out, fmt.Sprintf("%s: %.0f m have no ground under them", r.ID, r.MissingM))
		}
	}
	return out, nil
}

// sayGaps names them and ends with the code for an answer with gaps.
func (s *session) sayGaps(gaps []string) error {
	for _, g := range gaps {
		s.say("gap: %s", g)
	}
	if len(gaps) > 0 {
		return errGaps
	}
	return nil
}

type listAnswer struct {
	Schema   string        `json:"schema"`
	Descents []entryAnswer `json:"descents"`
	Gaps     []string      `json:"gaps"` // surveyed roads of which not all is known
	Cautions []string      `json:"cautions"`
}

// entryAnswer is a descent with what the catalogue keeps beside it.
type entryAnswer struct {
	descentAnswer
	Review     catalog.Review     `json:"review"`
	Provenance catalog.Provenance `json:"provenance"`
}

func answerOf(e *catalog.Entry) entryAnswer {
	return entryAnswer{descentAnswer{e.Descent, e.Holds}, e.Review, e.Provenance}
}

func (s *session) list(c *cli.Context) error {
	if err := argCount(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	es, err := entries(c)
	if err != nil {
		return err
	}
	gaps, err := routeGaps(c)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		a := listAnswer{Schema: catalog.Schema, Descents: []entryAnswer{}, Gaps: gaps, Cautions: catalog.Cautions()}
		for i := range es {
			a.Descents = append(a.Descents, answerOf(&es[i]))
		}
		err = s.printJSON(a)
	} else {
		err = s.writeList(c, es, u)
	}
	if err != nil {
		return err
	}
	return s.sayGaps(gaps)
}

// writeList prints the table for a screen, or writes the format that the output
// file's ending names.
func (s *session) writeList(c *cli.Context, es []catalog.Entry, u catalog.Units) error {
	draw := func(w io.Writer) error { return export.WriteText(w, listTable(es, u)) }
	switch out := strings.ToLower(c.String("o")); {
	case out == "" || out == "-":
	case strings.HasSuffix(out, ".csv"):
		draw = func(w io.Writer) error { return export.DescentsCSV(w, es, u) }
	case strings.HasSuffix(out, ".xlsx"):
		draw = func(w io.Writer) error { return export.DescentsXLSX(w, es, u) }
	case strings.HasSuffix(out, ".txt"):
		draw = func(w io.Writer) error { return export.SummaryText(w, es, u) }
	default:
		return usagef("-o %s: the file must end in .csv, .xlsx or .txt", c.String("o"))
	}
	return s.toOutput(c, draw)
}

// listTable is the table that people read on a screen: one line a descent, and
// what the lightest and heaviest class that has an answer can do.
func listTable(es []catalog.Entry, u catalog.Units) export.Table {
	t := export.Table{Title: fmt.Sprintf("%d descents, most dangerous first", len(es)),
		Header: []string{"descent", "name", "length", "drop", "mean", "steepest 500 m", "heaviest truck", "it holds"}}
	if len(es) == 1 {
		t.Title = "1 descent"
	}
	if u == catalog.US {
		t.Header[5] = "steepest 1,600 ft"
	}
	invented := false
	for i := range es {
		d := &es[i].Descent
		who, what := heaviestWords(&es[i], u)
		name := d.Name
		if len(d.Flags) > 0 {
			name += " [" + strings.Join(d.Flags, ", ") + "]"
		}
		if q := es[i].Review.InQuestion; q != "" {
			name += " [IN QUESTION: " + q + "]"
		}
		t.Rows = append(t.Rows, []any{d.ID, name, u.Length(d.LengthM), u.Height(d.DropM),
			catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct), fmt.Sprintf("%.1f %%", d.Steepest500Pct), who, what})
		invented = invented || es[i].Provenance.Invented
	}
	if invented {
		t.Notes = append(t.Notes, export.InventedBanner)
	}
	t.Notes = append(t.Notes, `"NOT HELD": no gear holds it on the retarder alone. Advised speeds are rounded down; ± is a 95 % half-width.`)
	t.Notes = append(t.Notes, catalog.Cautions()...)
	return t
}

// heaviestWords is what the heaviest class with an answer can do.
func heaviestWords(e *catalog.Entry, u catalog.Units) (who, what string) {
	var best *catalog.Hold
	for i := range e.Holds {
		if best == nil || e.Holds[i].MassKg > best.MassKg {
			best = &e.Holds[i]
		}
	}
	if best == nil {
		return "unknown", "no class was asked about"
	}
	who = fmt.Sprintf("%s, %s", best.Class, u.Mass(best.MassKg))
	if !best.Holds {
		return who, "NOT HELD"
	}
	return who, fmt.Sprintf("gear %d, stage %d, %s", best.Gear, best.Stage, u.Speed(best.SpeedMPS))
}
