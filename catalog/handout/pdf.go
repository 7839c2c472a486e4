package handout

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"
	"sync"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// PDF writes the document as a PDF on paper of a size, "A4" or "Letter". made is the date stored in
// the file, so that the same document gives the same bytes.
func PDF(w io.Writer, d Document, paper string, made time.Time) error {
	s := newSetter(d, paper, made)
	s.title()
	for i, b := range d.Blocks {
		s.set(i, b)
	}
	return s.Output(w)
}

// PageCount is the number of pages of the PDF.
func PageCount(d Document, paper string) (int, error) {
	s := newSetter(d, paper, time.Time{})
	s.title()
	for i, b := range d.Blocks {
		s.set(i, b)
	}
	return s.PageNo(), s.Error()
}

// setter sets a document from the top down; all lengths in mm.
type setter struct {
	*fpdf.Fpdf
	doc          Document
	width, floor float64
}

const (
	marginMM = 12.0
	footMM   = 14.0
	bodyPt   = 10.0
	ticksPt  = 9.0 // a checklist: many short lines
	mmPerPt  = catalog.InchM * 1000 / 72
)

func newSetter(d Document, paper string, made time.Time) *setter {
	s := &setter{Fpdf: fpdf.New("P", "mm", paper, ""), doc: d}
	s.SetCreationDate(made)
	s.SetModificationDate(made)
	s.SetCatalogSort(true)
	s.SetTitle(wording.Plain(d.Title), true)
	s.SetCreator(wording.Plain(d.Creator), true)
	s.SetLang("en")
	s.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	s.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	s.SetMargins(marginMM, marginMM, marginMM)
	s.SetCellMargin(0)
	s.SetAutoPageBreak(true, footMM)
	wide, tall := s.GetPageSize()
	s.width, s.floor = wide-2*marginMM, tall-footMM
	s.SetHeaderFunc(func() {
		if d.Banner != "" {
			s.bar(d.Banner)
		}
	})
	s.SetFooterFunc(func() {
		line := s.face("", 9)
		s.SetXY(marginMM, tall-footMM+2)
		s.MultiCell(s.width-22, line, printable(d.Footer), "", "L", false)
		s.SetXY(marginMM+s.width-22, tall-footMM+2)
		s.CellFormat(22, line, fmt.Sprintf("page %d", s.PageNo()), "", 0, "R", false, 0, "")
	})
	s.AddPage()
	return s
}

func (s *setter) face(style string, pt float64) (lineMM float64) {
	s.SetFont("sans", style, pt)
	return pt * mmPerPt * 1.22
}

func (s *setter) title() { s.text("B", 18, s.doc.Title, 0) }

func (s *setter) bar(t string) {
	line := s.face("B", 11)
	s.SetFillColor(0, 0, 0)
	s.SetTextColor(255, 255, 255)
	s.SetCellMargin(2)
	s.MultiCell(s.width, line*1.2, printable(t), "", "L", true)
	s.SetCellMargin(0)
	s.SetTextColor(0, 0, 0)
	s.Ln(1)
}

// text writes text wrapped to the page's width less an indent.
func (s *setter) text(style string, pt float64, t string, indent float64) {
	line := s.face(style, pt)
	s.SetX(marginMM + indent)
	s.MultiCell(s.width-indent, line, printable(t), "", "L", false)
}

// need begins a new page if there is not enough room.
func (s *setter) need(mm float64) {
	if s.GetY()+mm > s.floor {
		s.AddPage()
	}
}

func (s *setter) set(i int, b Block) {
	switch x := b.(type) {
	case Heading:
		if x.OnNewPage {
			s.AddPage()
		}
		s.need(22)
		s.Ln(1.5)
		s.text("B", 13, x.Text, 0)
		s.Ln(0.5)
	case Paragraph:
		style := ""
		if x.Strong {
			style = "B"
		}
		s.text(style, bodyPt, x.Text, 0)
		s.Ln(0.6)
	case List:
		s.list(x)
	case Table:
		s.table(x)
	case Picture:
		tall := s.width * x.HeightShare
		s.need(tall)
		name := fmt.Sprint("picture ", i)
		data, err := widened(x.PNG, i)
		if err != nil {
			s.SetError(err)
			return
		}
		s.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "PNG"}, bytes.NewReader(data))
		s.ImageOptions(name, marginMM, s.GetY(), s.width, tall, false, fpdf.ImageOptions{ImageType: "PNG"}, 0, "")
		s.SetY(s.GetY() + tall + 1)
	case Blanks:
		s.blanks(x)
	}
}

// widened adds blank columns to a PNG: the PDF library orders pictures by their width, and the
// order of equally wide ones is random.
func widened(data []byte, columns int) ([]byte, error) {
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	box := img.Bounds()
	box.Max.X += columns
	out := image.NewGray(box)
	draw.Draw(out, box, image.White, image.Point{}, draw.Src)
	draw.Draw(out, img.Bounds(), img, img.Bounds().Min, draw.Src)
	var b bytes.Buffer
	err = png.Encode(&b, out)
	return b.Bytes(), err
}

func (s *setter) list(x List) {
	pt := bodyPt
	if x.Ticks {
		pt = ticksPt
	}
	for i, t := range x.Items {
		s.need(9)
		line := s.face("", pt)
		y := s.GetY()
		switch {
		case x.Numbered:
			s.CellFormat(7, line, fmt.Sprintf("%d.", i+1), "", 0, "L", false, 0, "")
		case x.Ticks:
			s.Rect(marginMM, y+0.9, 2.8, 2.8, "D")
		default:
			s.CellFormat(7, line, "•", "", 0, "L", false, 0, "")
		}
		s.SetY(y)
		s.text("", pt, t, 7)
		s.Ln(0.2)
	}
	s.Ln(0.6)
}

func (s *setter) table(x Table) {
	n := len(x.Head)
	wide := make([]float64, n)
	for i := range wide {
		wide[i] = s.width / float64(n)
		if x.Share > 0 && n > 1 {
			wide[i] = s.width * (1 - x.Share) / float64(n-1)
		}
	}
	if x.Share > 0 {
		wide[0] = s.width * x.Share
	}
	s.row("B", wide, x.Head)
	for _, r := range x.Rows {
		s.row("", wide, r)
	}
	s.Ln(1.5)
}

// row is one row of a table, as tall as its tallest cell.
func (s *setter) row(style string, wide []float64, cells []string) {
	line, tall := s.face(style, 9.5), 0.0
	for i, c := range cells {
		if i < len(wide) {
			tall = math.Max(tall, float64(len(s.SplitText(printable(c), wide[i]-2.4)))*line)
		}
	}
	tall += 1.2
	s.need(tall)
	x, y := marginMM, s.GetY()
	s.SetLineWidth(0.2)
	for i, c := range cells {
		if i >= len(wide) {
			break
		}
		s.Rect(x, y, wide[i], tall, "D")
		s.SetXY(x+1.2, y+0.6)
		s.MultiCell(wide[i]-2, line, printable(c), "", "L", false)
		x += wide[i]
	}
	s.SetXY(marginMM, y+tall)
}

func (s *setter) blanks(b Blanks) {
	const each = 3
	for i, t := range b.Labels {
		if i%each == 0 {
			s.need(11)
			s.SetY(s.GetY() + 9)
		}
		x := marginMM + float64(i%each)*s.width/each
		line := s.face("", 10)
		s.SetXY(x, s.GetY()-line)
		s.CellFormat(s.width/each-4, line, printable(t)+":", "B", 0, "L", false, 0, "")
		s.SetXY(marginMM, s.GetY()+line)
	}
	s.Ln(2)
}

var sansFont = sync.OnceValues(func() (*sfnt.Font, error) { return sfnt.Parse(liberationsansregular.TTF) })

// printable replaces what the font has no glyph for.
func printable(t string) string {
	f, err := sansFont()
	if err != nil {
		return t
	}
	var b sfnt.Buffer
	out := []rune(wording.Plain(t))
	for i, r := range out {
		if g, err := f.GlyphIndex(&b, r); err != nil || g == 0 || r > 0xFFFF {
			out[i] = '?'
		}
	}
	return string(out)
}
