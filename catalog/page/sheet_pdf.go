package page

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
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

// ParsePaper reads "letter" or "a4".
func ParsePaper(s string) (Paper, error) {
	for _, p := range []Paper{Letter, A4} {
		if strings.EqualFold(s, p.String()) {
			return p, nil
		}
	}
	return Letter, &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a size of paper", s), Fix: "use letter or a4"}
}

func (p Paper) String() string {
	if p == A4 {
		return "A4"
	}
	return "Letter"
}

// SheetPDF writes the driver's page as a PDF of exactly one page, in black and greys.
// Long text is set smaller, down to 9 pt. If it still doesn't fit, that is an error;
// nothing is cut off. Characters that the page's font lacks are printed as "?"; the
// HTML page has no such limit.
func SheetPDF(w io.Writer, s Sheet, paper Paper) error {
	d, fits, err := s.layOut(paper)
	if err != nil {
		return err
	}
	if !fits {
		return &catalog.Fault{Kind: terrain.ErrInput, Feature: s.Entry.Descent.ID, What: "the driver's page does not fit on one " + paper.String() + " page",
			Fix: "shorten the name of the descent, its sites or the review's note"}
	}
	return d.Output(w)
}

// layOut sets the page at the largest scale that fits. It takes the highest profile that the page has
// room for, then makes the text smaller, then leaves out optional places, then the picture. Where
// nothing fits it uses the smallest scale.
func (s *Sheet) layOut(paper Paper) (d *sheetPDF, fits bool, err error) {
	if err := wording.CheckNames(&s.Entry.Descent); err != nil {
		return nil, false, err
	}
	page, err := s.page()
	if err != nil {
		return nil, false, err
	}
	d, fits, err = s.measure(&page, paper, 0)
	if err != nil {
		return nil, false, err
	}
	fig, bottom := d.fig, d.bottom
	var img bytes.Buffer // drawn once, for the page that fits
	if err := fig.PNG(&img); err != nil {
		return nil, false, err
	}
	d = newSheetPDF(page, paper, d.mag, s)
	d.fig, d.bottom = fig, bottom
	d.draw(img.Bytes())
	if d.Err() {
		return nil, false, fmt.Errorf("driver's page: %w", d.Error())
	}
	return d, fits, nil
}

// measure finds the profile, the scale and the contents with which a page fits. The page that it
// returns has no picture yet.
func (s *Sheet) measure(page *sheetPage, paper Paper, roomMM float64) (d *sheetPDF, fits bool, err error) {
	long := *page
	for _, try := range []struct {
		height             plot.SheetHeight
		bare, tight, blind bool
		from, down         float64
	}{{height: plot.SheetTall, from: 1, down: 1}, {height: plot.SheetMedium, from: 1, down: 0.9}, {height: plot.SheetLow, from: 0.95, down: smallestScale},
		{height: plot.SheetLow, bare: true, from: smallestScale, down: smallestScale}, {height: plot.SheetLow, bare: true, tight: true, from: smallestScale, down: smallestScale},
		{height: plot.SheetLow, bare: true, blind: true, from: 1, down: smallestScale}} {
		if try.bare {
			page.Places = withoutExtras(long.Places)
			page.GearIn, page.isFull = page.shortLevers.Replace(page.GearIn), !try.blind
		}
		page.Cautions, page.Facts, page.Rise, page.isTight = long.Cautions, long.Facts, long.Rise, try.tight
		if try.tight {
			page.tighten()
		}
		page.WithoutPicture = try.blind
		fig, err := plot.SheetProfile(s.numberedView(*page), s.Units, try.height)
		if err != nil {
			return nil, false, err
		}
		for scale := try.from; scale > try.down-0.005; scale -= 0.05 {
			d = newSheetPDF(*page, paper, scale, s)
			d.bottom -= roomMM
			d.fig = fig
			if d.draw(nil) {
				return d, true, nil
			}
		}
	}
	return d, false, nil
}

// leastIndent is the smallest share of the indent of facts that their labels leave.
const leastIndent = 0.85

// smallestScale bounds how far the page's larger text shrinks; the smaller stays at leastPt.
const smallestScale = 0.75

// sheetPDF draws one page from the top down; all lengths in mm.
type sheetPDF struct {
	*fpdf.Fpdf
	p                        sheetPage
	fig                      plot.Figure
	left, width, bottom, mag float64
	id                       string // of the descent, where the page cannot write its name; empty where it can
}

const sheetMarginMM = 10

func newSheetPDF(p sheetPage, paper Paper, scale float64, s *Sheet) *sheetPDF {
	d := &sheetPDF{Fpdf: fpdf.New("P", "mm", paper.String(), ""), p: p, left: sheetMarginMM, mag: scale}
	if printable(p.Title) != wording.Plain(p.Title) {
		d.id = s.Entry.Descent.ID
	}
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

// draw reports whether everything fitted on the page. Without img it leaves the picture's room empty.
func (d *sheetPDF) draw(img []byte) bool {
	d.SetXY(d.left, sheetMarginMM)
	d.head()
	d.boxes()
	if d.p.GearIn != "" {
		d.gap(1)
		pt := 13.0
		if d.p.isTight {
			pt = leastPt
		}
		d.para("B", pt, d.p.GearIn, 0)
	}
	d.gap(1)
	d.places()
	if d.p.RiseHead != "" {
		d.gap(1)
		d.bar(d.p.RiseHead, 13)
		for i, s := range d.p.Rise {
			d.numbered(i+1, s)
		}
	}
	d.gap(1)
	for _, f := range slices.Concat(d.p.Facts, d.p.Office) {
		d.fact(f)
	}
	d.gap(1)
	if !d.p.WithoutPicture {
		d.picture(img)
	}
	d.rule()
	style := "B"
	if d.p.isFull { // narrower
		style = ""
	}
	for _, s := range d.p.Cautions {
		d.para(style, leastPt, s, 0)
	}
	for _, s := range d.p.Foot {
		d.small(s)
	}
	return d.GetY() <= d.bottom && d.PageCount() == 1
}

// picture is the profile over the page's width.
func (d *sheetPDF) picture(img []byte) {
	h := d.width * d.fig.Aspect()
	if img != nil {
		d.RegisterImageOptionsReader("profile", fpdf.ImageOptions{ImageType: "PNG"}, bytes.NewReader(img))
		d.ImageOptions("profile", d.left, d.GetY(), d.width, h, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
	}
	d.SetY(d.GetY() + h)
	d.gap(1)
}

// head draws what the driver sees first: review, warnings, hill, truck and answer.
func (d *sheetPDF) head() {
	d.band()
	d.para("", leastPt, d.p.Stamp, 0)
	if d.p.Question != "" {
		d.bar(d.p.Question, 20)
	}
	for _, s := range d.p.Warnings {
		d.bar(s, 12)
	}
	d.para("B", 23, d.p.Title, 0)
	if d.id != "" {
		d.para("B", 12, "This page's font lacks letters of the name. It is descent "+d.id+"; the HTML page has the letters.", 0)
	}
	d.para("", 12, d.p.Way, 0)
	d.para("B", 13, d.p.Class, 0)
	d.gap(1)
	d.bar(d.p.Head, d.p.headPt())
	if d.p.Narrowed != "" {
		d.bar(d.p.Narrowed, narrowedPt)
	}
	for _, s := range d.p.Says {
		d.para("B", 15, s, 0)
	}
}

// band is black across the head of an approved page, striped across any other.
func (d *sheetPDF) band() {
	line := d.font("B", 13)
	tall, y := line*1.3, d.GetY()
	d.SetFillColor(0, 0, 0)
	if d.p.Band.Solid {
		d.Rect(d.left, y, d.width, tall, "F")
		d.SetTextColor(255, 255, 255)
	} else {
		d.ClipRect(d.left, y, d.width, tall, true)
		d.SetLineWidth(2)
		for x := d.left - tall; x < d.left+d.width; x += 5 {
			d.Line(x, y+tall, x+tall, y)
		}
		d.ClipEnd()
		wide := d.GetStringWidth(printable(d.p.Band.Text)) + 8
		d.SetFillColor(255, 255, 255)
		d.Rect(d.left+(d.width-wide)/2, y, wide, tall, "F")
	}
	d.SetXY(d.left, y)
	d.CellFormat(d.width, tall, printable(d.p.Band.Text), "", 1, "C", false, 0, "")
	d.SetTextColor(0, 0, 0)
	d.gap(0.5)
}

func (d *sheetPDF) gap(mm float64) {
	if d.p.isTight {
		mm /= 2
	}
	d.SetY(d.GetY() + mm*d.mag)
}

// leastPt is the smallest that a driver's text is set.
const leastPt = 9

// font sets the driver's text: at the page's scale, but never under 9 pt.
func (d *sheetPDF) font(style string, pt float64) (lineMM float64) {
	return d.setFont(style, math.Max(math.Min(pt, leastPt), pt*d.mag))
}

func (d *sheetPDF) setFont(style string, pt float64) (lineMM float64) {
	d.SetFont("sans", style, pt)
	return pt * mmPerPt * 1.2
}

// mmPerPt is a point of 1/72 inch.
const mmPerPt = catalog.InchM * 1000 / 72

// small writes text for the office that a driver need not read.
func (d *sheetPDF) small(s string) {
	line := d.setFont("", math.Max(6.5, 8*d.mag))
	d.SetX(d.left)
	d.MultiCell(d.width, line, printable(s), "", "L", false)
}

// para writes text wrapped to the page's width less an indent.
func (d *sheetPDF) para(style string, pt float64, s string, indent float64) {
	line := d.font(style, pt)
	d.SetX(d.left + indent)
	d.MultiCell(d.width-indent, line, printable(s), "", "L", false)
}

// bar writes white on black, for text that must be seen first.
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

// boxes draws the figures that a driver looks for.
func (d *sheetPDF) boxes() {
	n := float64(len(d.p.Boxes))
	if n == 0 {
		return
	}
	const between = 2.5
	// Each box gets the room for its longest line, and a share of the rest.
	needs, sum := make([]float64, len(d.p.Boxes)), 0.0
	for i, b := range d.p.Boxes {
		needs[i] = d.boxNeedMM(b)
		sum += needs[i]
	}
	tall := 25 * math.Max(0.9, d.mag)
	x, y := d.left, d.GetY()+0.5
	d.SetLineWidth(0.5)
	for i, b := range d.p.Boxes {
		wide := (d.width - between*(n-1)) * needs[i] / sum
		d.Rect(x, y, wide, tall, "D")
		d.boxLine(x, y+0.04*tall, wide, 0.2*tall, "B", 10.5, b.Label)
		d.boxLine(x, y+0.24*tall, wide, 0.52*tall, "B", 34, b.Big)
		d.boxLine(x, y+0.76*tall, wide, 0.2*tall, "", 10.5, b.Small)
		x += wide + between
	}
	d.SetXY(d.left, y+tall+0.5)
}

// boxLine centres a line in its box, set smaller where it is too wide.
func (d *sheetPDF) boxLine(x, y, wide, tall float64, style string, pt float64, s string) {
	s = printable(s)
	for d.setFont(style, pt); d.GetStringWidth(s) > wide-2 && pt > leastPt; pt -= 0.5 {
		d.setFont(style, pt-0.5)
	}
	d.SetXY(x, y)
	d.CellFormat(wide, tall, s, "", 0, "CM", false, 0, "")
}

// boxNeedMM is the least width of a box for its lines in the smallest type.
func (d *sheetPDF) boxNeedMM(b sheetBox) float64 {
	need := 0.0
	for _, l := range []struct {
		style, s string
		pt       float64
	}{{"B", b.Label, leastPt}, {"B", b.Big, 24}, {"", b.Small, leastPt}} {
		d.setFont(l.style, l.pt)
		need = math.Max(need, d.GetStringWidth(printable(l.s)))
	}
	return need + 5
}

func (d *sheetPDF) fact(f sheetFact) {
	y := d.GetY()
	line := d.font("B", 11)
	indent := 30 * math.Max(leastIndent, d.mag)
	d.SetX(d.left)
	d.CellFormat(indent, line, printable(f.Label), "", 0, "L", false, 0, "")
	d.SetY(y)
	d.para("", 11, f.Text, indent)
}

func (d *sheetPDF) numbered(i int, s string) {
	y := d.GetY()
	line := d.font("B", 11)
	d.SetX(d.left)
	d.CellFormat(6, line, fmt.Sprint(i), "", 0, "L", false, 0, "")
	d.SetY(y)
	d.para("", 11, s, 6)
}

func (d *sheetPDF) places() {
	line := d.font("B", 10)
	no, col := 6.0, 26*math.Max(0.88, d.mag)
	d.SetX(d.left)
	d.CellFormat(d.width, line, d.p.PlacesHead(), "", 1, "L", false, 0, "")
	for _, p := range d.p.Places {
		y := d.GetY()
		line := d.font("B", 11)
		d.SetX(d.left)
		d.CellFormat(no, line, p.No, "", 0, "R", false, 0, "")
		d.CellFormat(col, line, p.First, "", 0, "R", false, 0, "")
		d.font("", 11)
		d.CellFormat(col, line, p.Second, "", 0, "R", false, 0, "")
		d.SetY(y)
		style := ""
		if p.Strong {
			style = "B"
		}
		d.para(style, 11, p.What, no+2*col+4)
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
		return s // drawing with the font reports it
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
