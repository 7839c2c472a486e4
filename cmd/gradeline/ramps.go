package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/table"
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
	e, stretch, err := oneHill(c)
	if err != nil {
		return err
	}
	in.Descent, in.Profile = e.Descent, stretch
	a := rampsAnswer{Schema: catalog.Schema, Descent: e.Descent.ID, Candidates: []signs.RampStation{}, Ratings: []signs.Rating{},
		Statuses: signs.RunawayFigures(in), Cautions: append([]string{catalog.SignCaution}, catalog.Cautions()...)}
	if a.Runaway, err = signs.Runaway(in); err != nil {
		return err
	}
	a.Candidates = append(a.Candidates, signs.RampCandidates(in, a.Runaway, leadM)...)
	for _, r := range existing {
		rating, err := signs.RateRamp(r, speedNear(a.Runaway, r.StationM))
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
	return signs.Ramp{Name: fmt.Sprintf("ramp at station %.0f m", stationM), StationM: stationM,
		Beds: []signs.RampBed{{Material: parts[1], LengthM: lengthM, GradePct: gradePct}}}, nil
}

// speedNear is the free runaway's speed at the nearest station.
func speedNear(run []signs.SpeedAt, stationM float64) float64 {
	best := 0
	for i := range run {
		if d, b := run[i].StationM-stationM, run[best].StationM-stationM; d*d < b*b {
			best = i
		}
	}
	return run[best].FreeMPS
}

func (s *session) printRamps(a *rampsAnswer, u catalog.Units) error {
	t := table.Table{Title: "Where an escape ramp would still help on " + a.Descent, Header: []string{"station", "why", "entry, brakes gone", "entry, brakes faded", "bed", "ramp grade", "length"}}
	for _, k := range a.Candidates {
		for i, l := range k.Lengths {
			row := []any{"", "", "", "", l.Material, fmt.Sprintf("%.0f %%", l.GradePct), rampLength(l.LengthM, u)}
			if i == 0 {
				row[0], row[1], row[2], row[3] = u.Station(k.StationM), k.Why, speedUp(u, k.FreeMPS), speedUp(u, k.FadedMPS)
			}
			t.Rows = append(t.Rows, row)
		}
		if k.Late {
			t.Notes = append(t.Notes, fmt.Sprintf("Station %s is late: faster there than any ramp is laid out for.", u.Station(k.StationM)))
		}
	}
	for _, r := range a.Ratings {
		t.Notes = append(t.Notes, ratingWords(&r, u))
	}
	for _, f := range a.Statuses {
		t.Notes = append(t.Notes, fmt.Sprintf("Taken: %s (%s: %s).", f.Figure, f.Status, f.Source))
	}
	t.Notes = append(t.Notes, "Entry speeds are upper ends, the grade's bound added, and rounded up. Lengths are by the published formula, without a margin.")
	t.Notes = append(t.Notes, a.Cautions...)
	return table.WriteText(s.out, t)
}

// rampLength writes a length that a ramp must have, rounded up to 5 m or 10 ft.
func rampLength(lengthM float64, u catalog.Units) string {
	if u == catalog.US {
		return u.Height(math.Ceil(lengthM/3.048) * 3.048)
	}
	return u.Height(math.Ceil(lengthM/5) * 5)
}

// ratingWords says what an existing ramp does.
func ratingWords(r *signs.Rating, u catalog.Units) string {
	feet := func(lengthM float64, round func(float64) float64) string {
		if u == catalog.US {
			return u.Height(round(catalog.FtFromM(lengthM)) * catalog.FootM)
		}
		return u.Height(round(lengthM))
	}
	s := fmt.Sprintf("Ramp at station %s, entered at %s: ", u.Station(r.StationM), speedUp(u, r.EntryMPS))
	switch {
	case r.Stops:
		return s + fmt.Sprintf("stops it in %s of %s.", feet(r.UsedM, math.Ceil), feet(r.LengthM, math.Floor))
	case r.ShortByM > 0:
		return s + fmt.Sprintf("DOES NOT STOP IT: %s more of its last bed would be needed.", feet(r.ShortByM, math.Ceil))
	}
	return s + "DOES NOT STOP IT, and its last bed would not however long."
}

// speedUp rounds a speed up: for an entry speed that is the safe side.
func speedUp(u catalog.Units, speedMPS float64) string {
	return fmt.Sprintf("%d %s", u.WholeSpeed(speedMPS)+1, u.SpeedName())
}
