package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/routes"
)

func (s *session) rampsCommand() *cli.Command {
	return &cli.Command{
		Name: "ramps", Usage: "where a runaway would be how fast, where an escape ramp would still help and how long it must be",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` of the runaway, as in 63.5t; default 80,000 lb"},
			&cli.StringFlag{Name: "speed", Value: "25mph", Usage: "`SPEED` at the crest when the retarder is lost"},
			&cli.StringFlag{Name: "lead", Value: "200m", Usage: "how far before the trouble a ramp stands, as a `DISTANCE`"},
			&cli.StringSliceFlag{Name: "rate", Usage: "rate an existing ramp: `STATION, MATERIAL, LENGTH, GRADE`; may be given several times"},
			jsonFlag(), unitsFlag()},
		Action: s.ramps,
	}
}

type rampsAnswer struct {
	Schema     string                 `json:"schema"`
	Descent    string                 `json:"descent"`
	Runaway    []signs.SpeedAt        `json:"runaway"`
	Candidates []signs.RampStation    `json:"candidates"`
	OnRecord   []signs.RampStation    `json:"on_record"`
	Ratings    []signs.Rating         `json:"ratings"`
	Statuses   []catalog.FigureStatus `json:"figure_status"`
	Cautions   []string               `json:"cautions"`
}

func (s *session) ramps(c *cli.Context) error {
	if err := argCount(c, 1, 1, "the id of one descent (gradeline list shows them)"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	var in signs.RunawayInput
	if in.MassKg, _, err = quantityFlag(c, "mass", catalog.MassKg); err != nil {
		return err
	}
	if in.FromMPS, err = catalog.SpeedMPS(c.String("speed")); err != nil {
		return usageError{"--speed " + err.Error()}
	}
	leadM, err := catalog.LengthM(c.String("lead"))
	if err != nil {
		return usageError{"--lead " + err.Error()}
	}
	var existing []signs.Ramp
	for _, text := range c.StringSlice("rate") {
		r, err := rampFrom(text)
		if err != nil {
			return err
		}
		existing = append(existing, r)
	}
	e, stretch, sites, err := hillWithSites(c)
	if err != nil {
		return err
	}
	in.Descent, in.Profile = e.Descent, stretch
	a := rampsAnswer{Schema: catalog.Schema, Descent: e.Descent.ID, Candidates: []signs.RampStation{}, OnRecord: []signs.RampStation{}, Ratings: []signs.Rating{},
		Statuses: signs.RunawayFigures(in), Cautions: append([]string{catalog.SignCaution}, catalog.Cautions()...)}
	if a.Runaway, err = signs.Runaway(in); err != nil {
		return err
	}
	a.Candidates = append(a.Candidates, signs.RampCandidates(in, a.Runaway, leadM)...)
	a.OnRecord = append(a.OnRecord, signs.RampsOnRecord(in, a.Runaway, sites)...)
	for _, r := range existing {
		rating, err := signs.RateRamp(r, signs.SpeedNear(a.Runaway, r.StationM).FreeMPS)
		if err != nil {
			return err
		}
		a.Ratings = append(a.Ratings, rating)
	}
	if c.Bool("json") {
		return s.printJSON(a)
	}
	return s.printRamps(&a, u)
}

// rampFrom reads "11922m, pea gravel, 150m, 8%".
func rampFrom(text string) (signs.Ramp, error) {
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return signs.Ramp{}, usagef("--rate %q: write STATION, MATERIAL, LENGTH, GRADE, as in 11922m, pea gravel, 150m, 8%%", text)
	}
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	stationM, err := catalog.LengthM(parts[0])
	if err != nil {
		return signs.Ramp{}, usageError{"--rate station " + err.Error()}
	}
	lengthM, err := catalog.LengthM(parts[2])
	if err != nil {
		return signs.Ramp{}, usageError{"--rate length " + err.Error()}
	}
	gradePct, err := catalog.DowngradePct(parts[3])
	if err != nil {
		return signs.Ramp{}, usageError{"--rate grade " + err.Error()}
	}
	if strings.HasPrefix(parts[3], "-") { // a ramp that falls
		gradePct = -gradePct
	}
	return signs.Ramp{Name: parts[1] + " at " + parts[0], StationM: stationM,
		Beds: []signs.RampBed{{Material: parts[1], LengthM: lengthM, GradePct: gradePct}}}, nil
}

func (s *session) printRamps(a *rampsAnswer, u catalog.Units) error {
	header, rows := signs.RampStationTable(append(slices.Clone(a.OnRecord), a.Candidates...), u)
	t := tableOf("Escape ramps that stand on "+a.Descent+", and where one would still help", header, rows)
	for _, k := range a.Candidates {
		if k.Late {
			t.Notes = append(t.Notes, fmt.Sprintf("Station %s is late: faster there than any ramp is laid out for.", u.Station(k.StationM)))
		}
	}
	var rated table.Table
	if len(a.Ratings) > 0 {
		header, rows := signs.RatingTable(a.Ratings, u)
		rated = tableOf("Ramps rated", header, rows)
		if err := table.WriteText(s.out, rated); err != nil {
			return err
		}
		fmt.Fprintln(s.out)
	}
	for _, f := range a.Statuses {
		t.Notes = append(t.Notes, fmt.Sprintf("Taken: %s (%s: %s).", f.Figure, f.Status, f.Source))
	}
	t.Notes = append(t.Notes, "Entry speeds are upper ends, the grade's bound added, and rounded up. Lengths are by the published formula, without a margin, for at most 90 mph; in brackets for the run-down itself where that is faster.")
	t.Notes = append(t.Notes, a.Cautions...)
	return table.WriteText(s.out, t)
}

// hillWithSites reads the descent that the argument names, the grade line that is kept
// with it and the sites that serve it; nothing stays open.
func hillWithSites(c *cli.Context) (catalog.Entry, *routes.Profile, []catalog.Site, error) {
	cat, e, err := oneDescent(c)
	if err != nil {
		return e, nil, nil, err
	}
	defer cat.Close()
	line, err := cat.Profile(c.Context, e.Descent.ID)
	if err != nil {
		return e, nil, nil, err
	}
	dir := e.Descent.Direction
	sites, err := cat.Sites(c.Context, store.SiteFilter{Route: e.Descent.Route, Direction: &dir})
	return e, line, sites, err
}
