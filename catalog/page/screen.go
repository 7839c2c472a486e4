package page

import (
	"bytes"
	"html/template"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
)

// Screen is a descent's profile for a page of one's own, as the report shows it.
type Screen struct {
	SVG    template.HTML // drawn by classes that the page's style must know
	Series plot.StationSeries
	Pieces []Piece
	Places []Place
}

// Piece is a row of the table of 100 m pieces.
type Piece struct{ From, To, Elevation, Downgrade, Rests string }

// Place is something that the driver meets, with its distance past the crest.
type Place struct{ Distance, What string }

// ScreenOf draws a descent's profile for a page in a browser.
func ScreenOf(x *ReportEntry, u catalog.Units) (*Screen, error) {
	drawing, series, err := plot.DrawForScreen(&x.Entry, &x.View, u, plot.MapSpace{})
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := reportTemplate.ExecuteTemplate(&b, "profile", drawing); err != nil {
		return nil, err
	}
	out := &Screen{SVG: template.HTML(b.String()), Series: series, Pieces: piecesOf(&x.View, u)} // escaped by the template
	sheet := &Sheet{Entry: x.Entry, Units: u, View: x.View, Sites: x.Sites}
	for _, p := range sheet.places(wording.Unknown, nil, false) {
		out.Places = append(out.Places, Place{p.First, p.What})
	}
	return out, nil
}

// piecesOf is the table of 100 m pieces.
func piecesOf(v *plot.ProfileView, u catalog.Units) []Piece {
	var out []Piece
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	for _, b := range v.GradeBars(100) {
		rests := "measured ground"
		if !b.Measured {
			rests = "not on measured ground"
		}
		out = append(out, Piece{far.Figure(b.FromM, 2), far.Figure(b.ToM, 2), high.Figure(v.HeightAt(b.FromM), 0), wording.FigureText(b.DowngradePct, 1), rests})
	}
	return out
}
