package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/stationing"
)

func (s *session) practiceCommand() *cli.Command {
	return &cli.Command{
		Name: "practice", Usage: "practice grades for a training truck, easiest first, and why",
		Flags: append(filterFlags(),
			nearFlag(), withinFlag(),
			marginFlag(),
			jsonFlag(), unitsFlag()),
		Action: s.practice,
	}
}

func nearFlag() cli.Flag {
	return &cli.StringFlag{Name: "near", Usage: "only practice grades near this `LON,LAT` in degrees"}
}

func withinFlag() cli.Flag {
	return &cli.StringFlag{Name: "within", Value: "50km", Usage: "how near, as a straight `DISTANCE`"}
}

func marginFlag() cli.Flag {
	return &cli.StringFlag{Name: "margin", Value: "20%", Usage: "how much of the retarder must stay unused on a practice grade, in `PERCENT`"}
}

type practiceAnswer struct {
	Schema   string           `json:"schema"`
	Class    string           `json:"class"`
	Ladder   []ranking.Rung   `json:"ladder"`
	Skipped  []routes.Skipped `json:"skipped"`
	Cautions []string         `json:"cautions"`

	hasSites   bool // the catalogue knows places beside the roads
	isInvented bool
}

func (s *session) practice(c *cli.Context) error {
	if err := argCount(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	a, _, err := s.ladder(c)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return s.printJSON(a)
	}
	s.printLadder(a, u)
	return nil
}

// ladder puts the catalogue's practice grades in order, and gives the entries
// that it looked at.
func (s *session) ladder(c *cli.Context) (*practiceAnswer, []catalog.Entry, error) {
	class := c.String("class")
	if class == "" {
		return nil, nil, usagef("practice needs --class with the training truck; gradeline classes list shows them")
	}
	marginPct, err := catalog.DowngradePct(c.String("margin"))
	if err != nil {
		return nil, nil, usageError{"--margin: give per cent, as in 20%"}
	}
	cat, es, err := chosen(c)
	if err != nil {
		return nil, nil, err
	}
	defer cat.Close()
	if near := c.String("near"); near != "" {
		at, err := pointFrom(near)
		if err != nil {
			return nil, nil, err
		}
		withinM, err := catalog.LengthM(c.String("within"))
		if err != nil {
			return nil, nil, usageError{"--within " + err.Error()}
		}
		es = within(es, at, withinM)
	}
	sites, err := cat.Sites(c.Context, store.SiteFilter{})
	if err != nil {
		return nil, nil, err
	}
	a := &practiceAnswer{Schema: catalog.Schema, Class: class, Cautions: catalog.Cautions()}
	a.hasSites = len(sites) > 0
	for i := range es {
		a.isInvented = a.isInvented || es[i].Provenance.Invented
	}
	a.Ladder, a.Skipped = ranking.Ladder(es, class, sites, ranking.LadderOptions{MarginPct: marginPct})
	if a.Ladder == nil {
		a.Ladder = []ranking.Rung{}
	}
	return a, es, nil
}

// pointFrom reads lon,lat in degrees.
func pointFrom(text string) (orb.Point, error) {
	lon, lat, ok := strings.Cut(text, ",")
	x, err1 := strconv.ParseFloat(strings.TrimSpace(lon), 64)
	y, err2 := strconv.ParseFloat(strings.TrimSpace(lat), 64)
	if !ok || err1 != nil || err2 != nil || !(x >= -180 && x <= 180) || !(y >= -90 && y <= 90) {
		return orb.Point{}, usagef("--near %q: give longitude,latitude in degrees, as in 10.4,46.9", text)
	}
	return orb.Point{x, y}, nil
}

// within keeps the entries whose crest lies near a point.
func within(es []catalog.Entry, at orb.Point, mostM float64) []catalog.Entry {
	var out []catalog.Entry
	for _, e := range es {
		if stationing.DistanceM(at, orb.Point{e.Descent.CrestLonDeg, e.Descent.CrestLatDeg}) <= mostM {
			out = append(out, e)
		}
	}
	return out
}

// printLadder writes the ladder for people, a rung at a time.
func (s *session) printLadder(a *practiceAnswer, u catalog.Units) {
	const most = 92
	say := func(indent int, format string, args ...any) {
		fmt.Fprintf(s.out, "%s%s\n", strings.Repeat(" ", indent), wording.Wrapped(oneLine(fmt.Sprintf(format, args...)), most, indent+2))
	}
	if a.isInvented {
		fmt.Fprintf(s.out, "%s\n\n", wording.InventedBanner)
	}
	fmt.Fprintf(s.out, "Practice grades for %s, easiest first\n", a.Class)
	if len(a.Ladder) == 0 {
		fmt.Fprint(s.out, "\nNone: no descent that was looked at is held with the margin asked for.\n")
	}
	for i := range a.Ladder {
		r := &a.Ladder[i]
		name := r.Name
		if len(r.Flags) > 0 {
			name += " [" + strings.Join(r.Flags, ", ") + "]"
		}
		fmt.Fprintf(s.out, "\n%d. %s (%s): difficulty %.1f\n", i+1, oneLine(name), r.Descent, r.DifficultyScore)
		say(3, "%s at %.1f %% mean; gear %d, %s; %.0f %% of the retarder in hand", u.Length(r.LengthM), r.MeanDowngradePct, r.Gear, u.Speed(r.SpeedMPS), math.Floor(r.MarginPct))
		var why []string
		for k := range r.Parts {
			why = append(why, fmt.Sprintf("%.1f for %s", r.Parts[k].PointsScore, r.Parts[k].WordsIn(u)))
		}
		say(3, "Why: %s.", strings.Join(why, "; "))
		if r.HarderBy != "" {
			say(3, "Harder than no. %d: %s.", i, r.HarderBy)
		}
		places := []string{}
		for k := range r.Places {
			places = append(places, r.Places[k].Words(u))
		}
		if len(places) == 0 {
			places = []string{"none on record"}
		}
		say(3, "To stop or turn: %s.", strings.Join(places, "; "))
	}
	fmt.Fprintln(s.out)
	for _, k := range a.Skipped {
		say(0, "Left out: %s: %s.", k.Where, k.Why)
	}
	if !a.hasSites {
		say(0, "No places to stop or turn are on record: gradeline sites import brings them in.")
	}
	say(0, "Difficulty ranks, it does not measure: a point for each per cent of the steepest %s, each five minutes on the retarder, each fifth of the retarder in use, up to two for the tightest curve, one for each bench. Traffic stops are not known to it. In hand: the share of the retarder that stays unused; with half the retarder gone each is still held, in a lower gear.", wording.Window(u, 500))
	s.printCautions(nil)
}
