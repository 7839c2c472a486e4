// Package plansheet draws a schedule of signs as sheets that a contractor works from: the
// road in plan and in profile with every post, title block, north arrow and scale, and a
// list of posts with sizes, actions, quantities and coordinates. The input is a
// signs.Schedule with planned posts. The output is a PDF with one page for each sheet, or
// one SVG or DXF with the sheets below each other. The same set gives the same bytes. Marks are
// plain shapes, not drawings of signs, and are legible in black and white.
package plansheet

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

// Set is the input of a set of sheets.
type Set struct {
	Schedule *signs.Schedule
	Units    catalog.Units
	Source   string    // of the heights and the line, for the title block
	Made     time.Time // date of the data, for the title block and the file
	Tool     string
	Invented bool // a demonstration; every sheet says so
}

// Format is a file format that sheets are written in.
type Format string

// The formats, named by the ending of files.
const (
	PDF Format = "pdf"
	SVG Format = "svg"
	DXF Format = "dxf"
)

// FormatFromName returns the format of a file name's ending. Error: terrain.ErrInput for any other
// ending.
func FormatFromName(name string) (Format, error) {
	low := strings.ToLower(name)
	for _, f := range []Format{PDF, SVG, DXF} {
		if strings.HasSuffix(low, "."+string(f)) {
			return f, nil
		}
	}
	return "", &catalog.Fault{Kind: terrain.ErrInput, File: name, What: "plan sheets are written as .pdf, .svg or .dxf",
		Fix: "end the name in one of them; the posts at their places on the map are written by -o posts.geojson and -o posts.csv"}
}

// Write draws the sheets and writes them in a format.
func Write(w io.Writer, s Set, f Format) error {
	d, err := s.draw()
	if err != nil {
		return err
	}
	switch f {
	case PDF:
		return writePDF(w, d.pages, &s)
	case SVG:
		return writeSVG(w, d.pages)
	case DXF:
		return writeDXF(w, d)
	}
	return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("plan sheets cannot be written as %q", f), Fix: "use pdf, svg or dxf"}
}

// Sheet is one sheet as a picture.
type Sheet struct {
	Title string
	SVG   []byte
}

// Sheets draws each sheet as an SVG of its own.
func Sheets(s Set) ([]Sheet, error) {
	d, err := s.draw()
	if err != nil {
		return nil, err
	}
	var out []Sheet
	for i, p := range d.pages {
		var b bytes.Buffer
		if err := writeSVG(&b, d.pages[i:i+1]); err != nil {
			return nil, err
		}
		out = append(out, Sheet{fmt.Sprintf("%s, sheet %d of %d", p.title, i+1, len(d.pages)), b.Bytes()})
	}
	return out, nil
}

// draw lays out all sheets: plan and profile first, then the lists.
func (s *Set) draw() (*drafter, error) {
	if s.Schedule == nil || len(s.Schedule.Posts) == 0 && len(s.Schedule.Placements) > 0 {
		return nil, &catalog.Fault{Kind: terrain.ErrInput, What: "no posts were planned", Fix: "the schedule needs a plan of posts first"}
	}
	if err := wording.CheckNames(&routes.Descent{ID: s.Schedule.DescentID, Name: s.Schedule.Name, Route: s.Schedule.Route}); err != nil {
		return nil, err
	}
	d := newDrafter(s)
	for i := range d.stretches {
		d.planPage(i)
	}
	d.listPages()
	for i, p := range d.pages {
		d.frame(p, i+1, len(d.pages))
	}
	return d, nil
}
