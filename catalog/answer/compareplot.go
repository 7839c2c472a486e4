package answer

import (
	"cmp"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/page"
	"gradeline/catalog/plot"
	"gradeline/catalog/ranking"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// wayViewOf is the drawing of a compared route: its grade line, or from the catalogue alone the
// lines of its descents.
func wayViewOf(v *ranking.Verdict, k *ranking.Candidate) plot.WayView {
	w := plot.WayView{No: v.Place, Name: v.Route, Answer: verdictWords(v), LengthM: k.LengthM, Invented: wording.AnyInvented(k.Entries)}
	if k.Profile != nil {
		w.Line, w.UnknownM = lineOfProfile(k.Profile), doubtsOf(k.Profile)
	} else {
		for i := range k.Entries {
			w.Line = append(w.Line, k.Entries[i].Line...)
			w.Line = append(w.Line, catalog.Vertex{LonDeg: math.NaN(), LatDeg: math.NaN(), ElevationM: math.NaN(), StationM: math.NaN()})
		}
		w.UnknownM = unknownOf(k)
	}
	w.Hills = hillsOf(k.Entries, v.Class)
	return w
}

// unknownOf are the stretches of a road of the catalogue that can't be relied on: all of
// it, or where ground is missing, all but its descents, since the catalogue doesn't say
// where the ground is missing.
func unknownOf(k *ranking.Candidate) [][2]float64 {
	switch {
	case !k.Reliable:
		return [][2]float64{{0, k.LengthM}}
	case k.MissingM <= 0.5:
		return nil
	}
	var known, out [][2]float64
	for i := range k.Entries {
		d := &k.Entries[i].Descent
		known = append(known, [2]float64{math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)})
	}
	slices.SortFunc(known, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	fromM := 0.0
	for _, s := range append(known, [2]float64{k.LengthM, k.LengthM}) {
		if s[0] > fromM {
			out = append(out, [2]float64{fromM, s[0]})
		}
		fromM = math.Max(fromM, s[1])
	}
	return out
}

// hillsOf numbers descents in travel with what a class can do on each.
func hillsOf(es []catalog.Entry, class string) []plot.WayHill {
	var out []plot.WayHill
	for i := range es {
		d := &es[i].Descent
		a, h, _ := wording.AnswerFor(&es[i], class)
		says := a.String()
		if a == wording.Held && h.IsDryRoadOnly() {
			says = catalog.DryRoadOnly
		}
		out = append(out, plot.WayHill{No: i + 1, FromM: math.Min(d.StartM, d.EndM), ToM: math.Max(d.StartM, d.EndM), Says: says, IsLoud: a != wording.Held})
	}
	return out
}

// lineOfProfile is a grade line as vertices, finer than any drawing shows left out.
func lineOfProfile(p *routes.Profile) []catalog.Vertex {
	const most = 4000
	every := (p.Count() + most - 1) / most
	var out []catalog.Vertex
	for i := range p.Count() {
		if i%every != 0 && i != p.Count()-1 {
			continue
		}
		out = append(out, catalog.Vertex{LonDeg: p.Points[i][0], LatDeg: p.Points[i][1], ElevationM: p.ElevationM[i], StationM: math.Min(p.StationM(i), p.LengthM)})
	}
	return out
}

// doubtsOf are the stretches of a grade line that can't be relied on.
func doubtsOf(p *routes.Profile) [][2]float64 {
	if !p.Reliable {
		return [][2]float64{{0, p.LengthM}}
	}
	var out [][2]float64
	for _, d := range p.Doubtful {
		out = append(out, [2]float64{d.FromM, d.ToM})
	}
	return append(out, p.MissingStretches()...)
}

// Plot draws the routes on a map with their profiles next to it. The file's ending says
// how: .svg, .png, or .html for a page with the table.
func (a *Comparison) Plot(w io.Writer, path string, u catalog.Units) error {
	f, err := plot.WaysFigure(a.ways, u, append(slices.Clone(a.Cautions), a.credits...))
	if err != nil {
		return err
	}
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg":
		return f.SVG(w)
	case ".png":
		return f.PNG(w)
	case ".html", ".htm":
		return page.TableHTML(w, a.Table(u), f, a.isInvented)
	}
	return &catalog.Fault{Kind: catalog.ErrImpossible, File: path, What: "is not a format for drawings", Fix: "use a name that ends in .svg, .png or .html"}
}
