package page

import (
	"bytes"
	"html/template"
	"io"
	"path/filepath"
	"strings"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"

	"gradeline/catalog/plot"
)

var tripTemplate = template.Must(template.ParseFS(pageFiles, "assets/trip.html"))

// IsPageName reports whether a file's name ends as that of a page does: .html, .htm or .pdf.
func IsPageName(file string) bool {
	switch strings.ToLower(filepath.Ext(file)) {
	case ".html", ".htm", ".pdf":
		return true
	}
	return false
}

// TripHTML writes the driver's page of a trip as one self-contained HTML file: the same words as
// TripPDF.
func TripHTML(w io.Writer, t Trip, paper Paper) error {
	f, err := plot.WayProfile(t.marks(), t.Units)
	if err != nil {
		return err
	}
	img, err := svgData(f)
	if err != nil {
		return err
	}
	return tripTemplate.Execute(w, struct {
		tripPage
		Paper, ListHead, Alt string
		Image                template.URL
	}{t.page(), paper.String(), tripHead, f.Alt(), img})
}

// tripPDF sets the page from the top down, over as many sheets as needed.
type tripPDF struct {
	*fpdf.Fpdf
	width float64
}

const (
	tripMarginMM = 12.0
	tripTextPt   = 11.0
)

// TripPDF writes the driver's page of a trip as a PDF in black and greys, over as many sheets as
// needed; each repeats the answer.
func TripPDF(w io.Writer, t Trip, paper Paper) error {
	f, err := plot.WayProfile(t.marks(), t.Units)
	if err != nil {
		return err
	}
	var img bytes.Buffer
	if err := f.PNG(&img); err != nil {
		return err
	}
	p := t.page()
	d := newTripPDF(p, paper, t)
	d.head(p)
	d.RegisterImageOptionsReader("profile", fpdf.ImageOptions{ImageType: "PNG"}, &img)
	high := d.width * f.Aspect()
	d.ImageOptions("profile", tripMarginMM, d.GetY(), d.width, high, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	d.SetY(d.GetY() + high + 1)
	d.text("B", 10, tripHead)
	for _, r := range p.Rows {
		d.row(r)
	}
	d.Ln(2)
	if p.Surfaces != "" {
		d.text("B", tripTextPt, p.Surfaces)
	}
	if p.Rise != "" {
		d.text("B", tripTextPt, p.Rise)
	}
	for _, s := range p.Notes {
		d.text("", 10, s)
	}
	d.Ln(1)
	for _, s := range p.Cautions {
		d.text("B", leastPt, s)
	}
	for _, s := range p.Sources {
		d.text("", leastPt, s)
	}
	d.text("", leastPt, p.Stamp)
	return d.Output(w)
}

func newTripPDF(p tripPage, paper Paper, t Trip) *tripPDF {
	d := &tripPDF{Fpdf: fpdf.New("P", "mm", paper.String(), "")}
	d.SetCreationDate(t.Printed)
	d.SetModificationDate(t.Printed)
	d.SetCatalogSort(true)
	d.SetTitle("Driver's page of a trip: "+p.Title, true)
	d.SetSubject(p.Head+". "+p.Class, true)
	d.SetLang("en")
	d.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	d.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	d.SetMargins(tripMarginMM, tripMarginMM, tripMarginMM)
	d.SetAutoPageBreak(true, tripMarginMM+6)
	d.SetHeaderFuncMode(func() {
		if d.PageNo() > 1 {
			d.text("B", 9, p.Title+". "+p.Class+". "+joinWords(p.Head, p.Narrowed))
			d.Ln(1)
		}
	}, false) // the list continues under it
	d.SetFooterFunc(func() {
		d.SetY(-tripMarginMM)
		d.SetFont("sans", "", leastPt)
		d.CellFormat(0, 4, printable(p.Cautions[0]), "", 0, "L", false, 0, "")
	})
	d.AddPage()
	wide, _ := d.GetPageSize()
	d.width = wide - 2*tripMarginMM
	return d
}

func joinWords(a, b string) string {
	if b == "" {
		return a
	}
	return a + ". " + b
}

// head draws what the driver sees first.
func (d *tripPDF) head(p tripPage) {
	if p.Banner != "" {
		d.bar(12, p.Banner)
	}
	d.text("B", 17, p.Title)
	d.text("B", 12, p.Class)
	d.bar(16, p.Head)
	if p.Narrowed != "" {
		d.bar(20, p.Narrowed)
	}
	d.text("", 12, p.Says)
	d.Ln(1)
}

func (d *tripPDF) text(style string, pt float64, s string) {
	if s == "" {
		return
	}
	d.SetFont("sans", style, pt)
	d.MultiCell(0, pt*mmPerPt*1.25, printable(s), "", "L", false)
}

// bar writes white on black.
func (d *tripPDF) bar(pt float64, s string) {
	d.SetFillColor(0, 0, 0)
	d.SetTextColor(255, 255, 255)
	d.SetFont("sans", "B", pt)
	d.MultiCell(0, pt*mmPerPt*1.4, " "+printable(s), "", "L", true)
	d.SetTextColor(0, 0, 0)
	d.Ln(1)
}

// row writes one line of the list, never split over two sheets.
func (d *tripPDF) row(r tripRow) {
	const no, col, gap = 7.0, 19.0, 3.0
	style := ""
	if r.IsStrong || r.IsLoud {
		style = "B"
	}
	d.SetFont("sans", style, tripTextPt)
	line := tripTextPt * mmPerPt * 1.25
	lines := d.SplitText(printable(r.What), d.width-no-2*col-gap)
	_, tall := d.GetPageSize()
	if d.GetY()+line*float64(len(lines)) > tall-tripMarginMM-6 {
		d.AddPage()
	}
	y := d.GetY()
	d.SetFont("sans", "B", tripTextPt)
	d.CellFormat(no, line, r.No, "", 0, "R", false, 0, "")
	d.CellFormat(col, line, r.First, "", 0, "R", false, 0, "")
	d.SetFont("sans", "", tripTextPt)
	d.CellFormat(col, line, r.Second, "", 0, "R", false, 0, "")
	d.SetFont("sans", style, tripTextPt)
	d.SetXY(tripMarginMM+no+2*col+gap, y)
	if r.IsLoud {
		d.SetFillColor(0, 0, 0)
		d.SetTextColor(255, 255, 255)
	}
	d.MultiCell(d.width-no-2*col-gap, line, printable(r.What), "", "L", r.IsLoud)
	d.SetTextColor(0, 0, 0)
	d.Ln(0.6)
}
