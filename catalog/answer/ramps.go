package answer

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
)

// Ramps is the speed of a runaway along a hill, and the places where an escape ramp would still help.
type Ramps struct {
	Schema     string                 `json:"schema"`
	Descent    string                 `json:"descent"`
	Runaway    []signs.SpeedAt        `json:"runaway"`
	Candidates []signs.RampStation    `json:"candidates"`
	OnRecord   []signs.RampStation    `json:"on_record"`
	Ratings    []signs.Rating         `json:"ratings"`
	Statuses   []catalog.FigureStatus `json:"figure_status"`
	Cautions   []string               `json:"cautions"`

	in signs.RunawayInput
}

// RampOptions set where ramps may be placed and which exist.
type RampOptions struct {
	LeadM    float64        // distance of a ramp before the hazard
	OnRecord []catalog.Site // sites that serve the descent; the escape ramps among them are used
	Existing []signs.Ramp   // to rate
}

// RampsOf is NewRamps for a descent of a catalogue, by its id: on its stored grade line, and with the
// sites on record that serve its direction.
func RampsOf(ctx context.Context, cat *store.Catalog, id string, in signs.RunawayInput, o RampOptions) (*Ramps, error) {
	e, err := cat.Descent(ctx, id)
	if err != nil {
		return nil, err
	}
	in.Descent = e.Descent
	if in.Profile, err = cat.Profile(ctx, e.Descent.ID); err != nil {
		return nil, err
	}
	if o.OnRecord, err = cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Direction: &e.Descent.Direction}); err != nil {
		return nil, err
	}
	return NewRamps(in, o)
}

// NewRamps is the answer for a runaway.
func NewRamps(in signs.RunawayInput, o RampOptions) (*Ramps, error) {
	a := &Ramps{Schema: catalog.Schema, Descent: in.Descent.ID, Ratings: []signs.Rating{},
		Statuses: signs.RunawayFigures(in, catalog.Metric), Cautions: append([]string{catalog.SignCaution}, catalog.Cautions()...), in: in}
	var err error
	if a.Runaway, err = signs.Runaway(in); err != nil {
		return nil, err
	}
	a.Candidates = notNil(signs.RampCandidates(in, a.Runaway, o.LeadM))
	a.OnRecord = notNil(signs.RampsOnRecord(in, a.Runaway, o.OnRecord))
	for _, r := range o.Existing {
		rating, err := signs.RateRampOnRun(r, signs.SpeedNear(a.Runaway, r.StationM).FreeMPS)
		if err != nil {
			return nil, err
		}
		a.Ratings = append(a.Ratings, rating)
	}
	return a, nil
}

// sameRampM is the distance within which a ramp that is rated is the one on record.
const sameRampM = 100.0

// stationTyped is a station as --rate takes it.
func stationTyped(stationM float64, u catalog.Units) string {
	if u == catalog.US {
		return fmt.Sprintf("%.0fft", catalog.FtFromM(stationM))
	}
	return fmt.Sprintf("%.0fm", stationM)
}

// WriteText writes the rated ramps, then the existing ones and the places where another would help,
// with its length.
func (a *Ramps) WriteText(w io.Writer, u catalog.Units) error {
	if len(a.Ratings) > 0 {
		header, rows := signs.RatingTable(a.Ratings, u)
		if err := table.WriteText(w, tableOf("Ramps rated", header, rows)); err != nil {
			return err
		}
		if _, err := io.WriteString(w, "\n"); err != nil {
			return err
		}
	}
	header, rows := signs.RampStationTable(append(slices.Clone(a.OnRecord), a.Candidates...), u)
	t := tableOf("Existing escape ramps on "+a.Descent+", and where one would still help", header, rows)
	for _, k := range a.OnRecord {
		if !slices.ContainsFunc(a.Ratings, func(r signs.Rating) bool { return math.Abs(r.StationM-k.StationM) <= sameRampM }) {
			t.Notes = append(t.Notes, fmt.Sprintf("The ramp at station %s is not rated: no bed is on record for it. Rate it, with the highest speed that it stops, by --rate \"%s, MATERIAL, LENGTH, GRADE\".", u.Station(k.StationM), stationTyped(k.StationM, u)))
		}
	}
	for _, k := range a.Candidates {
		if k.Late {
			t.Notes = append(t.Notes, fmt.Sprintf("Station %s is too late: the runaway is faster there than any ramp is designed for.", u.Station(k.StationM)))
		}
	}
	for _, f := range signs.RunawayFigures(a.in, u) {
		t.Notes = append(t.Notes, fmt.Sprintf("Assumed: %s (%s: %s).", f.Figure, f.Status, f.Source))
	}
	t.Notes = append(t.Notes, "Entry speeds are upper ends, the grade's bound added, and rounded up. Lengths are by the published formula, without a margin, for at most 90 mph; in brackets for the run-down itself where that is faster.")
	t.Notes = append(t.Notes, a.Cautions...)
	return table.WriteText(w, t)
}
