package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plot"
	"gradeline/catalog/wholefile"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

func (s *session) showCommand() *cli.Command {
	return &cli.Command{
		Name: "show", Usage: "one descent: its figures, profile and holds",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(), classFlag(),
			&cli.StringFlag{Name: "plot", Usage: "draw the profile to a .svg or .png `FILE`"},
			&cli.StringFlag{Name: "holding-plot", Usage: "draw demand against what each gear holds to a .svg or .png `FILE`; needs --class"},
			&cli.StringFlag{Name: "heat-plot", Usage: "draw what the service brakes would reach to a .svg or .png `FILE`; needs --class"},
			classesFlag(),
			jsonFlag(), unitsFlag(), forceFlag()},
		Action: s.show,
	}
}

type showAnswer struct {
	Schema   string        `json:"schema"`
	Descent  answer.Entry  `json:"descent"`
	Profile  profileAnswer `json:"profile"`
	Cautions []string      `json:"cautions"`
}

// profileAnswer is the grade line along the descent, in travel.
type profileAnswer struct {
	StationM   []float64  `json:"station_m"`
	GroundM    []*float64 `json:"ground_m"` // null where the terrain has no height
	ElevationM []*float64 `json:"elevation_m"`
	State      []string   `json:"state"`
}

func (s *session) show(c *cli.Context) error {
	if err := argCount(c, 1, 1, "the id of one descent (gradeline list shows them)"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	cat, e, err := oneDescent(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	hold := holdFor(&e, c.String("class"))
	if c.String("class") != "" && hold == nil {
		return usagef("%s has no answer for class %q; it has %s", e.Descent.ID, c.String("class"), listed(wording.Classes([]catalog.Entry{e})))
	}
	view, err := descentView(c, cat, &e, hold)
	if err != nil {
		return err
	}
	if file := c.String("plot"); file != "" {
		if err := notAnInput(c, file); err != nil {
			return err
		}
		if err := s.plotTo(file, c.Bool("force"), view, u); err != nil {
			return err
		}
	}
	if err := s.classPlots(c, &e, hold, u); err != nil {
		return err
	}
	if c.Bool("json") {
		return s.printJSON(showAnswer{catalog.Schema, answer.EntryOf(&e), profileOf(view), catalog.Cautions()})
	}
	s.printEntry(&e, view.Structures, c.String("class"), u)
	return nil
}

// plotTo draws a profile view to a file whose ending names the format.
func (s *session) plotTo(file string, force bool, view plot.ProfileView, u catalog.Units) error {
	return s.drawTo(file, force, func(w io.Writer) error { return plot.ProfileSVG(w, view, u) },
		func(w io.Writer) error { return plot.ProfilePNG(w, view, u) })
}

// drawTo writes a plot as SVG or PNG, as the file's ending says.
func (s *session) drawTo(file string, force bool, svg, png func(io.Writer) error) error {
	draw := svg
	switch {
	case strings.HasSuffix(strings.ToLower(file), ".png"):
		draw = png
	case !strings.HasSuffix(strings.ToLower(file), ".svg"):
		return usagef("%s: a plot's file must end in .svg or .png", file)
	}
	if err := wholefile.WriteFile(file, force, draw); err != nil {
		return err
	}
	s.say("wrote %s", file)
	return nil
}

// classPlots draws what belongs to one weight class.
func (s *session) classPlots(c *cli.Context, e *catalog.Entry, h *catalog.Hold, u catalog.Units) error {
	holdingFile, heatFile := c.String("holding-plot"), c.String("heat-plot")
	if holdingFile == "" && heatFile == "" {
		return nil
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	for _, file := range []string{holdingFile, heatFile} {
		if file != "" {
			if err := notAnInput(c, file); err != nil {
				return err
			}
		}
	}
	if holdingFile != "" {
		v := plot.HoldingViewFor(e, &class)
		if err := s.drawTo(holdingFile, c.Bool("force"), func(w io.Writer) error { return plot.HoldingSVG(w, v, u) },
			func(w io.Writer) error { return plot.HoldingPNG(w, v, u) }); err != nil {
			return err
		}
	}
	if heatFile != "" {
		v := plot.HeatViewFor(e, h)
		return s.drawTo(heatFile, c.Bool("force"), func(w io.Writer) error { return plot.HeatSVG(w, v, u) },
			func(w io.Writer) error { return plot.HeatPNG(w, v, u) })
	}
	return nil
}

// holdFor is an entry's hold for a class, or for its heaviest one.
func holdFor(e *catalog.Entry, class string) *catalog.Hold {
	if class == "" {
		return catalog.Heaviest(e.Holds)
	}
	for i := range e.Holds {
		if e.Holds[i].Class == class {
			return &e.Holds[i]
		}
	}
	return nil
}

func profileOf(v plot.ProfileView) profileAnswer {
	a := profileAnswer{StationM: v.StationM, GroundM: orNull(v.GroundM), ElevationM: orNull(v.ElevationM), State: []string{}}
	for _, st := range v.State {
		a.State = append(a.State, st.String())
	}
	return a
}

// orNull writes what is not a number as null.
func orNull(v []float64) []*float64 {
	out := make([]*float64, len(v))
	for i := range v {
		if v[i] == v[i] {
			out[i] = &v[i]
		}
	}
	return out
}

// printEntry writes one descent for people; a class narrows the advice to its
// own and tells what stands behind it.
func (s *session) printEntry(e *catalog.Entry, structures []routes.Structure, class string, u catalog.Units) {
	d := &e.Descent
	line := func(label, format string, a ...any) {
		fmt.Fprintf(s.out, "  %-18s %s\n", label, fmt.Sprintf(format, a...))
	}
	if e.Provenance.Invented {
		fmt.Fprintf(s.out, "%s\n\n", wording.InventedBanner)
	}
	fmt.Fprintf(s.out, "%s: %s (%s along the line)\n", d.ID, wording.Title(d), d.Direction)
	line("length", "%s (crest at station %s ± %s, foot at %s ± %s)", u.Length(d.LengthM), u.Station(d.StartM), boundWords(d.StartErrM, u), u.Station(d.EndM), boundWords(d.EndErrM, u))
	line("drop", "%s, from %s to %s", u.Height(d.DropM), u.Height(d.CrestElevationM), u.Height(d.FootElevationM))
	line("mean downgrade", "%s (95 %%)", catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct))
	line("steepest", "%.1f %% over %s, %.1f %% over %s, %.1f %% over %s", d.Steepest100Pct, wording.Window(u, 100), d.Steepest500Pct, wording.Window(u, 500), d.Steepest1000Pct, wording.Window(u, 1000))
	if d.TightestRadiusM != nil {
		line("tightest curve", "radius %s at station %s", u.Height(*d.TightestRadiusM), u.Station(*d.TightestRadiusAtM))
	} else {
		line("tightest curve", "none under %s radius", u.Height(5000))
	}
	for _, b := range d.Benches {
		line("bench", "%s at %s, station %s to %s", u.Length(b.LengthM), benchGrade(b), u.Station(b.StartM), u.Station(b.EndM))
	}
	line("not on ground", "%s interpolated over bridges, tunnels and voids", u.Length(d.InterpolatedM))
	for _, t := range structures {
		if from, to := math.Max(t.FromM, math.Min(d.StartM, d.EndM)), math.Min(t.ToM, math.Max(d.StartM, d.EndM)); from < to {
			line("structure", "%s, station %s to %s", structureWords(t), u.Station(t.FromM), u.Station(t.ToM))
		}
	}
	line("crest, foot", "%.5f, %.5f and %.5f, %.5f (longitude, latitude)", d.CrestLonDeg, d.CrestLatDeg, d.FootLonDeg, d.FootLatDeg)
	if len(d.Flags) > 0 {
		line("flags", "%s", strings.Join(d.Flags, ", "))
	}
	s.para("%s", wording.ReviewLine(e))
	s.para("%s", wording.SourceLine(e.Provenance))
	fmt.Fprintln(s.out)
	for i := range e.Holds {
		h := &e.Holds[i]
		if class != "" && h.Class != class {
			continue
		}
		words := h.Words.Metric
		if u == catalog.US {
			words = h.Words.US
		}
		fmt.Fprintf(s.out, "%s at %s: %s\n", h.Class, u.Mass(h.MassKg), wording.HoldWords(e, h.Class, u))
		s.para("%s", words)
		if class != "" {
			if up := h.OneGearUpIn(u); up != "" {
				s.para("one gear higher: %s", up)
			}
			s.printBehind(h, u)
		}
		for _, t := range h.Cautions {
			s.para("- %s", t)
		}
	}
	s.printCautions(nil)
}

// structureWords says what a structure is and how it is known.
func structureWords(t routes.Structure) string {
	switch {
	case t.Flagged:
		return t.Kind.String() + " by the road data"
	case t.Kind == routes.Tunnel:
		return "tunnel or cut found in the ground, not in the road data: look"
	}
	return "bridge or fill found in the ground, not in the road data: look"
}

// boundWords writes a half-width along the road, rounded up to 10 m or 50 ft.
func boundWords(halfM float64, u catalog.Units) string {
	if u == catalog.US {
		return u.Height(math.Ceil(catalog.FtFromM(halfM)/50) * 50 * catalog.FootM)
	}
	return u.Height(math.Ceil(halfM/10) * 10)
}

func benchGrade(b routes.Bench) string {
	if b.MeanDowngradePct < 0 {
		return fmt.Sprintf("%.1f %% climbing", -b.MeanDowngradePct)
	}
	return fmt.Sprintf("%.1f %% down", b.MeanDowngradePct)
}
