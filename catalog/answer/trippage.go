package answer

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/page"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes/stationing"
)

// TripPageOptions set the content of the driver's page of a trip.
type TripPageOptions struct {
	Class   *vehicle.Class
	Units   catalog.Units
	Paper   page.Paper
	Sites   []catalog.Site // those along the way are shown
	Printed time.Time
	Credits []string // what the licences of the terrain ask to be printed
	Place   int      // of the trip: 1 is the best; 0 also
	// IsInvented marks the page of a demonstration.
	IsInvented bool
}

// TripPageName is the file of the page of a trip, from the name for the best way: the place is
// inserted before the ending.
func TripPageName(file string, place int) string {
	if place <= 1 {
		return file
	}
	ext := filepath.Ext(file)
	return fmt.Sprintf("%s-%d%s", strings.TrimSuffix(file, ext), place, ext)
}

// WritePages has a page written for each way, the best one first, under the names of TripPageName. The
// first error ends it.
func (a *TripsAnswer) WritePages(file string, o TripPageOptions, write func(name string, draw func(io.Writer) error) error) error {
	for i := range a.Trips {
		o.Place = i + 1
		name := TripPageName(file, o.Place)
		if err := write(name, func(w io.Writer) error { return a.TripPage(w, name, o) }); err != nil {
			return err
		}
	}
	return nil
}

// addCredits adds what the licences of the sources of descents ask to be printed, each once.
func addCredits(list []string, es []catalog.Entry) []string {
	for i := range es {
		for _, c := range es[i].Provenance.Credits {
			if !slices.Contains(list, c) {
				list = append(list, c)
			}
		}
	}
	return list
}

// FromCatalogue takes the places of a catalogue, and where the way was found on its grade
// lines, its credits and whether it is a demonstration.
func (o *TripPageOptions) FromCatalogue(ctx context.Context, cat *store.Catalog, isWayOfIt bool) (err error) {
	if o.Sites, err = cat.Sites(ctx, store.SiteFilter{}); err != nil {
		return err
	}
	f := store.Filter{NoHolds: true}
	if !isWayOfIt {
		f.Limit = 1
	}
	es, err := cat.Descents(ctx, f)
	if err != nil {
		return err
	}
	o.IsInvented = wording.AnyInvented(es)
	if isWayOfIt {
		o.Credits = addCredits(o.Credits, es)
	}
	return nil
}

// TripPage writes the driver's page of a trip, as HTML or, by a file's ending, as PDF. Without a
// trip, or without its grade line, it returns an error.
func (a *TripsAnswer) TripPage(w io.Writer, path string, o TripPageOptions) error {
	if len(a.Trips) == 0 || a.Trips[0].trip == nil {
		return &catalog.Fault{Kind: catalog.ErrNotFound, What: "there is no trip to print a page of: " + a.NoWay, Fix: a.Opens}
	}
	place := max(1, o.Place)
	if place > len(a.Trips) {
		return &catalog.Fault{Kind: catalog.ErrNotFound, What: fmt.Sprintf("there is no way %d", place), Fix: fmt.Sprintf("there are %d", len(a.Trips))}
	}
	t := a.Trips[place-1].trip
	if t.Profile == nil {
		return &catalog.Fault{Kind: catalog.ErrNotFound, What: "no grade line of the trip is known", Fix: "use terrain that covers it"}
	}
	p := page.Trip{From: a.placeWords(0), To: a.placeWords(len(a.Places) - 1), Class: a.Class, ClassLabel: o.Class.Name, MassKg: a.MassKg,
		LengthM: t.LengthM, TimeS: t.TimeS, Entries: t.Entries, Units: o.Units, Printed: o.Printed,
		View:  plot.WayView{Name: "the way", LengthM: t.LengthM, Line: lineOfProfile(t.Profile), UnknownM: doubtsOf(t.Profile), Hills: hillsOf(t.Entries, a.Class), Invented: o.IsInvented},
		Notes: unstatedWords(&a.Trips[place-1], o.Units)}
	if len(a.Trips) > 1 {
		p.Notes = append([]string{fmt.Sprintf("This is way %d of %d that this truck can take, best first by %s.", place, len(a.Trips), a.Prefer)}, p.Notes...)
	}
	p.Sites = sitesAlong(t, o.Sites)
	if t.Route.Name != "" {
		p.Over = t.Route.Name
	}
	for _, s := range a.Network {
		p.Sources = append(p.Sources, sourceWords(&s))
	}
	for _, c := range addCredits(slices.Clone(o.Credits), t.Entries) {
		if !slices.ContainsFunc(p.Sources, func(s string) bool { return strings.Contains(s, c) }) {
			p.Sources = append(p.Sources, c)
		}
	}
	if strings.EqualFold(filepath.Ext(path), ".pdf") {
		return page.TripPDF(w, p, o.Paper)
	}
	return page.TripHTML(w, p, o.Paper)
}

// placeWords names a requested place by its coordinates.
func (a *TripsAnswer) placeWords(i int) string {
	if i < 0 || i >= len(a.Places) {
		return "unknown"
	}
	p := a.Places[i].AskedDeg
	return fmt.Sprintf("%.4f, %.4f", p[0], p[1])
}

// siteReachM is the distance from the way's line within which a place belongs to it:
// the widest road with the entry of a ramp (common practice, no source).
const siteReachM = 60.0

// sitesAlong places sites on a way. Sites that are known to serve the opposite direction are left
// out.
func sitesAlong(t *survey.Trip, sites []catalog.Site) []page.TripSite {
	var out []page.TripSite
	for _, s := range sites {
		at, side, awayM := alongLine(t.Route.Line, t.Route.VertexM, orb.Point{s.Point.LonDeg, s.Point.LatDeg})
		if awayM > siteReachM || s.Side != "" && side != "" && side != s.Side {
			continue
		}
		out = append(out, page.TripSite{Site: s, AtM: at})
	}
	return out
}

// alongLine finds the nearest point of a line: its station, and on which side of travel a place is;
// no side within three metres of the line.
func alongLine(line orb.LineString, vertexM []float64, p orb.Point) (atM float64, side string, awayM float64) {
	awayM = math.Inf(1)
	cos := math.Cos(p[1] * math.Pi / 180)
	for i := 1; i < len(line); i++ {
		ax, ay := math.Remainder(line[i-1][0]-p[0], 360)*cos, line[i-1][1]-p[1]
		bx, by := math.Remainder(line[i][0]-p[0], 360)*cos, line[i][1]-p[1]
		dx, dy := bx-ax, by-ay
		f := 0.0
		if l := dx*dx + dy*dy; l > 0 {
			f = math.Max(0, math.Min(1, -(ax*dx+ay*dy)/l))
		}
		foot := orb.Point{line[i-1][0] + f*math.Remainder(line[i][0]-line[i-1][0], 360), line[i-1][1] + f*(line[i][1]-line[i-1][1])}
		if d := stationing.DistanceM(foot, p); d < awayM {
			awayM, atM, side = d, vertexM[i-1]+f*(vertexM[i]-vertexM[i-1]), "left"
			if dx*(-ay)-dy*(-ax) < 0 {
				side = "right"
			}
		}
	}
	if awayM < 3 {
		side = ""
	}
	return atM, side, awayM
}

// unstatedWords say which limits the road data of a trip does not state.
func unstatedWords(t *TripAnswer, u catalog.Units) []string {
	heights := ""
	if n := t.Unstated.UnderCount; n > 0 {
		heights = ", no height at " + wording.Counted(n, "bridge") + " over it"
	}
	out := []string{fmt.Sprintf("The road data states no weight limit on %s of this way%s. That is not a permission: read the signs.", u.Length(t.Unstated.WeightM), heights)}
	if t.Unstated.TimedM > 0 {
		out = append(out, fmt.Sprintf("%s of it are closed to trucks at some hours: read the signs.", u.Length(t.Unstated.TimedM)))
	}
	return out
}

// sourceWords say where road data comes from, how old it is and what its licence requires.
func sourceWords(s *NetworkSource) string {
	asOf := "of unknown age"
	if len(s.AsOf) >= 10 {
		asOf = "as of " + s.AsOf[:10]
	}
	return fmt.Sprintf("Roads: %s, %s. %s.", s.File, asOf, strings.TrimSuffix(s.Attribution, "."))
}
