package plansheet

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"

	"gradeline/routes"
)

// writeSVG writes the sheets below each other in one drawing, in mm.
func writeSVG(w io.Writer, pages []*page) error {
	const gapMM = 8
	var b strings.Builder
	wide, high := 0.0, -float64(gapMM)
	for _, p := range pages {
		wide, high = max(wide, p.widthMM), high+p.heightMM+gapMM
	}
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.1fmm" height="%.1fmm" viewBox="0 0 %.1f %.1f" font-family="Liberation Sans, Arial, sans-serif" fill="none" stroke="black" stroke-linejoin="round" role="img">`+"\n", wide, high, wide, high)
	fmt.Fprintf(&b, `<rect width="%.1f" height="%.1f" fill="white" stroke="none"/>`+"\n", wide, high)
	y := 0.0
	for _, p := range pages {
		fmt.Fprintf(&b, `<g transform="translate(0 %.1f)"><title>`, y)
		xml.EscapeText(&b, []byte(p.title)) // a strings.Builder does not fail
		b.WriteString("</title>\n")
		for _, it := range p.items {
			svgItem(&b, it)
		}
		b.WriteString("</g>\n")
		y += p.heightMM + gapMM
	}
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func svgItem(b *strings.Builder, it any) {
	switch v := it.(type) {
	case stroke:
		b.WriteString(`<path d="`)
		for i, q := range v.pts {
			fmt.Fprintf(b, "%c%.2f %.2f", "ML"[min(i, 1)], q.x, q.y)
		}
		if v.isClosed {
			b.WriteString("Z")
		}
		b.WriteString(`"`)
		if v.widthMM > 0 {
			fmt.Fprintf(b, ` stroke-width="%.2f"`, v.widthMM)
		} else {
			b.WriteString(` stroke="none"`)
		}
		if v.dashMM > 0 {
			fmt.Fprintf(b, ` stroke-dasharray="%.2f"`, v.dashMM)
		}
		if v.fill != noFill {
			fmt.Fprintf(b, ` fill="#%02x%02x%02x"`, v.fill, v.fill, v.fill)
		}
		b.WriteString("/>\n")
	case label:
		fmt.Fprintf(b, `<text x="%.2f" y="%.2f" font-size="%.2f" text-anchor="%s" fill="black" stroke="none"`, v.at.x, v.at.y, v.sizeMM, v.anchor)
		if v.isBold {
			b.WriteString(` font-weight="bold"`)
		}
		if v.angle != 0 {
			fmt.Fprintf(b, ` transform="rotate(%.2f %.2f %.2f)"`, -v.angle, v.at.x, v.at.y)
		}
		b.WriteString(">")
		xml.EscapeText(b, []byte(v.text))
		b.WriteString("</text>\n")
	}
}

// writePDF writes a page for each sheet.
func writePDF(w io.Writer, pages []*page, s *Set) error {
	d := fpdf.New("L", "mm", "A4", "")
	d.SetCreationDate(s.Made)
	d.SetModificationDate(s.Made)
	d.SetCatalogSort(true)
	d.SetTitle("Sign plan: "+s.name(), true)
	d.SetCreator(s.Tool, true)
	d.SetLang("en")
	d.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	d.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	d.SetAutoPageBreak(false, 0)
	d.SetMargins(0, 0, 0)
	for _, p := range pages {
		d.AddPageFormat("P", fpdf.SizeType{Wd: p.widthMM, Ht: p.heightMM})
		for _, it := range p.items {
			pdfItem(d, it)
		}
	}
	if d.Err() {
		return fmt.Errorf("plan sheets: %w", d.Error())
	}
	return d.Output(w)
}

func pdfItem(d *fpdf.Fpdf, it any) {
	switch v := it.(type) {
	case stroke:
		if len(v.pts) < 2 {
			return
		}
		if v.dashMM > 0 {
			d.SetDashPattern([]float64{v.dashMM, v.dashMM}, 0)
		} else {
			d.SetDashPattern(nil, 0)
		}
		d.SetLineWidth(max(v.widthMM, 0.01))
		d.MoveTo(v.pts[0].x, v.pts[0].y)
		for _, q := range v.pts[1:] {
			d.LineTo(q.x, q.y)
		}
		if v.isClosed {
			d.ClosePath()
		}
		style := ""
		if v.fill != noFill {
			d.SetFillColor(v.fill, v.fill, v.fill)
			style = "F"
		}
		if v.widthMM > 0 {
			style += "D"
		}
		d.DrawPath(style)
	case label:
		font := ""
		if v.isBold {
			font = "B"
		}
		d.SetFont("sans", font, v.sizeMM/1000/routes.InchM*72)
		width := d.GetStringWidth(v.text)
		x := v.at.x
		switch v.anchor {
		case "middle":
			x -= width / 2
		case "end":
			x -= width
		}
		if v.angle != 0 {
			d.TransformBegin()
			d.TransformRotate(v.angle, v.at.x, v.at.y)
			defer d.TransformEnd()
		}
		d.Text(x, v.at.y, v.text)
	}
}
