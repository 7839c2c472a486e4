package plansheet

import (
	"math"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// point is a place on paper, mm from the sheet's left and top edge.
type point struct{ x, y float64 }

// stroke is a line or an area.
type stroke struct {
	pts      []point
	widthMM  float64
	dashMM   float64 // length of dashes; 0 for a full line
	isClosed bool
	fill     int // grey from 0 black to 255 white; noFill for none
	layer    string
}

const noFill = -1

// label is a piece of text on one line, its baseline at the point.
type label struct {
	at     point
	sizeMM float64
	anchor string // "start", "middle" or "end"
	isBold bool
	angle  float64 // degrees, counterclockwise
	text   string
	layer  string
}

// page is one sheet with its drawing in order; an item is a stroke or a label.
type page struct {
	widthMM, heightMM float64
	title             string
	scale             string // words for the title block
	layer             string // of the items that are added next
	items             []any
}

// The layers of a drawing for CAD. Marks of posts have a layer for each action.
const (
	layerFrame    = "SHEET-FRAME"
	layerText     = "SHEET-TEXT"
	layerRoad     = "ROAD"
	layerStations = "ROAD-STATIONS"
	layerLeaders  = "POST-LEADERS"
	layerPosts    = "POST-" // before the action
	layerProfile  = "PROFILE"
)

func (p *page) line(width, dash float64, pts ...point) {
	p.items = append(p.items, stroke{pts: pts, widthMM: width, dashMM: dash, fill: noFill, layer: p.layer})
}

func (p *page) area(width float64, fill int, pts ...point) {
	p.items = append(p.items, stroke{pts: pts, widthMM: width, isClosed: true, fill: fill, layer: p.layer})
}

func (p *page) rect(x, y, w, h, width float64, fill int) {
	p.area(width, fill, point{x, y}, point{x + w, y}, point{x + w, y + h}, point{x, y + h})
}

// hatched is a rectangle with diagonal lines, for what the terrain cannot show.
func (p *page) hatched(x, y, w, h float64) {
	p.rect(x, y, w, h, 0.2, 255)
	for s := 0.0; s < w+h; s += 1.5 {
		a, b := point{x + s, y}, point{x + s - h, y + h}
		if a.x > x+w {
			a = point{x + w, y + (a.x - x - w)}
		}
		if b.x < x {
			b = point{x, y + h - (x - b.x)}
		}
		p.line(0.2, 0, a, b)
	}
}

func (p *page) circle(c point, r, width float64, fill int) {
	var pts []point
	for i := range 24 {
		a := float64(i) / 24 * 2 * math.Pi
		pts = append(pts, point{c.x + r*math.Cos(a), c.y + r*math.Sin(a)})
	}
	p.area(width, fill, pts...)
}

func (p *page) text(x, y, size float64, anchor string, bold bool, s string) {
	if s != "" {
		p.items = append(p.items, label{point{x, y}, size, anchor, bold, 0, s, p.layer})
	}
}

func (p *page) turned(x, y, size, angle float64, anchor, s string) {
	p.items = append(p.items, label{point{x, y}, size, anchor, false, angle, s, p.layer})
}

// faces are the two fonts of the sheets, parsed once.
var faces = sync.OnceValue(func() [2]*sfnt.Font {
	var out [2]*sfnt.Font
	for i, ttf := range [][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		if f, err := sfnt.Parse(ttf); err == nil {
			out[i] = f
		}
	}
	return out
})

// widthMM is the drawn width of a text. Letters that the font lacks count as an em.
func widthMM(s string, sizeMM float64, bold bool) float64 {
	i := 0
	if bold {
		i = 1
	}
	f := faces()[i]
	if f == nil {
		return float64(len([]rune(s))) * sizeMM
	}
	var b sfnt.Buffer
	em := fixed.Int26_6(1000 << 6)
	sum := 0.0
	for _, r := range s {
		g, err := f.GlyphIndex(&b, r)
		if err != nil || g == 0 {
			sum += 1000
			continue
		}
		if a, err := f.GlyphAdvance(&b, g, em, font.HintingNone); err == nil {
			sum += float64(a) / 64
		}
	}
	return sum / 1000 * sizeMM
}

// cut shortens a text to a width, with an ellipsis.
func cut(s string, most, sizeMM float64, bold bool) string {
	if widthMM(s, sizeMM, bold) <= most {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && widthMM(string(r)+"…", sizeMM, bold) > most {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ") + "…"
}

// wrap breaks a text into lines of at most a width; a longer word is on its own line.
func wrap(s string, most, sizeMM float64) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(s) {
		next := strings.TrimSpace(line + " " + w)
		if line != "" && widthMM(next, sizeMM, false) > most {
			out, next = append(out, line), w
		}
		line = next
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}
