package page

import (
	"bytes"
	"fmt"
	"io"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// Paper is the size of a printed page.
type Paper uint8

// The papers.
const (
	Letter Paper = iota
	A4
)

func (p Paper) String() string {
	if p == A4 {
		return "A4"
	}
	return "Letter"
}

// SheetPDF writes the driver's page as a PDF of exactly one page, in black and
// greys. Text that grows too long is set smaller, down to three quarters; what
// still doesn't fit is an error, never cut off. Characters that the page's
// font lacks are printed as "?"; the HTML page has no such limit.
func SheetPDF(w io.Writer, s Sheet, paper Paper) error {
	page := s.page()
	fig, err := plot.SheetProfile(s.numberedView(page), s.Units)
	if err != nil {
		return err
	}
	d, err := fitSheet(s, page, paper, fig)
	if err != nil {
		return err
	}
	return d.Output(w)
}

// fitSheet lays the page out at the largest scale that fits.
func fitSheet(s Sheet, page sheetPage, paper Paper, fig plot.Figure) (*sheetPDF, error) {
	var img bytes.Buffer
	if err := fig.PNG(&img); err != nil {
		return nil, err
	}
	for scale := 1.0; scale > smallestScale-0.005; scale -= 0.02 {
		d := newSheetPDF(page, paper, scale, s)
		fits := d.draw(img.Bytes(), fig.Aspect())
		if d.Err() {
			return nil, fmt.Errorf("driver's page: %w", d.Error())
		}
		if fits {
			return d, nil
		}
	}
	return nil, &catalog.Fault{Kind: terrain.ErrInput, Feature: s.Entry.Descent.ID, What: "the driver's page does not fit on one " + paper.String() + " page",
		Fix: "shorten the name of the descent, its sites or the review's note"}
}

// smallestScale keeps the text of the page's body above 8 pt.
const smallestScale = 0.75

// sheetPDF draws one page from the top down; all lengths in mm.
type sheetPDF struct {
	*fpdf.Fpdf
	p                        sheetPage
	left, width, bottom, mag float64
}

const sheetMarginMM = 10

func newSheetPDF(p sheetPage, paper Paper, scale float64, s Sheet) *sheetPDF {
	d := &sheetPDF{Fpdf: fpdf.New("P", "mm", paper.String(), ""), p: p, left: sheetMarginMM, mag: scale}
	made := s.Entry.Provenance.At
	d.SetCreationDate(made)
	d.SetModificationDate(made)
	d.SetCatalogSort(true)
	d.SetTitle("Driver's page: "+p.Title, true)
	d.SetSubject(p.Head+". "+p.Class, true)
	d.SetCreator(wording.Plain(s.Entry.Provenance.Tool), true)
	d.SetLang("en")
	d.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	d.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	d.SetAutoPageBreak(false, 0)
	d.SetMargins(sheetMarginMM, sheetMarginMM, sheetMarginMM)
	d.SetCellMargin(0)
	d.AddPage()
	wide, tall := d.GetPageSize()
	d.width, d.bottom = wide-2*sheetMarginMM, tall-sheetMarginMM
	return d
}

// draw reports whether everything fitted on the page.
func (d *sheetPDF) draw(img []byte, aspect float64) bool {
	d.SetXY(d.left, sheetMarginMM)
	if d.p.Question != "" {
		d.bar(d.p.Question, 20)
	}
	for _, s := range d.p.Warnings {
		d.bar(s, 12)
	}
	d.para("B", 25, d.p.Title, 0)
	d.para("", 13, d.p.Way, 0)
	d.para("B", 13, d.p.Class, 0)
	d.gap(1.5)
	d.bar(d.p.Head, d.p.headPt())
	for _, s := range d.p.Says {
		d.para("B", 15, s, 0)
	}
	d.boxes()
	if d.p.GearIn != "" {
		d.gap(1)
		d.para("B", 13, d.p.GearIn, 0)
	}
	d.gap(1)
	for _, f := range d.p.Facts {
		d.fact(f)
	}
	d.gap(1)
	d.RegisterImageOptionsReader("profile", fpdf.ImageOptions{ImageType: "PNG"}, bytes.NewReader(img))
	h := d.width * aspect
	d.ImageOptions("profile", d.left, d.GetY(), d.width, h, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	d.SetY(d.GetY() + h)
	d.gap(1)
	d.places()
	if d.p.RiseHead != "" {
		d.gap(1.5)
		d.bar(d.p.RiseHead, 13)
		for i, s := range d.p.Rise {
			d.numbered(i+1, s)
		}
	}
	d.gap(1.5)
	d.rule()
	for _, s := range d.p.Cautions {
		d.para("B", 9, s, 0)
	}
	for _, s := range d.p.Foot {
		d.para("", 8.5, s, 0)
	}
	return d.GetY() <= d.bottom && d.PageCount() == 1
}

func (d *sheetPDF) gap(mm float64) { d.SetY(d.GetY() + mm*d.mag) }

func (d *sheetPDF) font(style string, pt float64) (lineMM float64) {
	d.SetFont("sans", style, pt*d.mag)
	return pt * d.mag * 0.3528 * 1.2
}

// para writes text wrapped to the page's width less an indent.
func (d *sheetPDF) para(style string, pt float64, s string, indent float64) {
	line := d.font(style, pt)
	d.SetX(d.left + indent)
	d.MultiCell(d.width-indent, line, printable(s), "", "L", false)
}

// bar writes white on black, for what must be seen first.
func (d *sheetPDF) bar(s string, pt float64) {
	line := d.font("B", pt)
	d.SetFillColor(0, 0, 0)
	d.SetTextColor(255, 255, 255)
	d.SetX(d.left)
	d.SetCellMargin(2)
	d.MultiCell(d.width, line*1.15, printable(s), "", "L", true)
	d.SetCellMargin(0)
	d.SetTextColor(0, 0, 0)
	d.gap(0.8)
}

// boxes are the four figures that a driver looks for.
func (d *sheetPDF) boxes() {
	n := float64(len(d.p.Boxes))
	if n == 0 {
		return
	}
	const between = 2.5
	// The longer a figure, the wider its box, so that each keeps room around it.
	var letters float64
	for _, b := range d.p.Boxes {
		letters += boxShare(b)
	}
	tall := 25 * d.mag
	x := d.left
	y := d.GetY() + 0.5
	d.SetLineWidth(0.5)
	for _, b := range d.p.Boxes {
		wide := (d.width - between*(n-1)) * boxShare(b) / letters
		d.Rect(x, y, wide, tall, "D")
		for _, t := range []struct {
			style   string
			pt, top float64
			s       string
		}{{"B", 10.5, 1, b.Label}, {"B", 34, 6, b.Big}, {"", 10.5, 19.8, b.Small}} {
			line := d.font(t.style, t.pt)
			for pt := t.pt; d.GetStringWidth(t.s) > wide-2 && pt > 6; pt -= 0.5 {
				line = d.font(t.style, pt)
			}
			d.SetXY(x, y+t.top*d.mag)
			d.CellFormat(wide, max(line, t.pt*d.mag*0.3528*1.2), printable(t.s), "", 0, "C", false, 0, "")
		}
		x += wide + between
	}
	d.SetXY(d.left, y+tall+0.5)
}

// boxShare is a box's share of the width.
func boxShare(b sheetBox) float64 { return 9 + float64(len([]rune(b.Big))) }

func (d *sheetPDF) fact(f sheetFact) {
	const indent = 32
	y := d.GetY()
	line := d.font("B", 11.5)
	d.SetX(d.left)
	d.CellFormat(indent*d.mag, line, f.Label, "", 0, "L", false, 0, "")
	d.SetY(y)
	d.para("", 11.5, f.Text, indent*d.mag)
}

func (d *sheetPDF) numbered(i int, s string) {
	y := d.GetY()
	line := d.font("B", 11.5)
	d.SetX(d.left)
	d.CellFormat(6, line, fmt.Sprint(i), "", 0, "L", false, 0, "")
	d.SetY(y)
	d.para("", 11.5, s, 6)
}

func (d *sheetPDF) places() {
	const no, col = 7, 18
	line := d.font("B", 9.5)
	d.SetX(d.left)
	d.CellFormat(d.width, line, "Along the way, from the crest (numbers as on the profile)", "", 1, "L", false, 0, "")
	for _, p := range d.p.Places {
		y := d.GetY()
		line := d.font("B", 11)
		d.SetX(d.left)
		d.CellFormat(no*d.mag, line, p.No, "", 0, "R", false, 0, "")
		d.CellFormat(col*d.mag, line, p.First, "", 0, "R", false, 0, "")
		d.font("", 11)
		d.CellFormat(col*d.mag, line, p.Second, "", 0, "R", false, 0, "")
		d.SetY(y)
		d.para("", 11, p.What, (no+2*col+4)*d.mag)
	}
}

func (d *sheetPDF) rule() {
	d.SetLineWidth(0.3)
	d.Line(d.left, d.GetY(), d.left+d.width, d.GetY())
	d.gap(1)
}

var sansFont = sync.OnceValues(func() (*sfnt.Font, error) { return sfnt.Parse(liberationsansregular.TTF) })

// printable replaces what the page's font has no glyph for.
func printable(s string) string {
	f, err := sansFont()
	if err != nil {
		return s // the page's own use of the font reports it
	}
	var b sfnt.Buffer
	out := []rune(wording.Plain(s))
	for i, r := range out {
		if g, err := f.GlyphIndex(&b, r); err != nil || g == 0 || r > 0xFFFF {
			out[i] = '?'
		}
	}
	return string(out)
}
