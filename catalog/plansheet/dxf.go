package plansheet

import (
	"fmt"
	"io"
	"math"
	"strings"
	"sync"

	"github.com/yofu/dxf"
	"github.com/yofu/dxf/color"
	"github.com/yofu/dxf/drawing"
	"github.com/yofu/dxf/entity"
	"github.com/yofu/dxf/insunit"
	"github.com/yofu/dxf/table"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

// dxfLibrary guards the tables that the DXF library shares between drawings.
var dxfLibrary sync.Mutex

// dxfWriter puts pages of a set into a drawing. A unit of the drawing is a metre or a foot of the
// ground in plan, so that a length measured in the plan is that of the road.
type dxfWriter struct {
	d        *drawing.Drawing
	mmToUnit float64
	layers   map[string]*table.Layer
	style    *table.Style
}

// writeDXF writes the sheets below each other, in model space, on layers by content and by action.
func writeDXF(w io.Writer, sheets *drafter) error {
	dxfLibrary.Lock()
	defer dxfLibrary.Unlock()
	x := dxfWriter{d: dxf.NewDrawing(), mmToUnit: sheets.scale / 1000, layers: map[string]*table.Layer{}}
	x.d.Header().InsUnit = insunit.Meters
	if sheets.u == catalog.US {
		x.mmToUnit = catalog.FtFromM(x.mmToUnit)
		x.d.Header().InsUnit = insunit.Feet
	}
	var err error
	if x.style, err = x.d.AddStyle("SHEET", "arial.ttf", "", true); err != nil {
		return fmt.Errorf("plan sheets: %w", err)
	}
	const gapMM = 20
	bottomMM, wideMM := 0.0, 0.0
	for _, p := range sheets.pages {
		bottomMM -= p.heightMM
		wideMM = max(wideMM, p.widthMM)
		for _, it := range p.items {
			if err := x.item(it, bottomMM+p.heightMM); err != nil {
				return fmt.Errorf("plan sheets: %w", err)
			}
		}
		bottomMM -= gapMM
	}
	h := x.d.Header()
	h.ExtMin = []float64{0, (bottomMM + gapMM) * x.mmToUnit, 0}
	h.ExtMax = []float64{wideMM * x.mmToUnit, 0, 0}
	_, err = x.d.WriteTo(w)
	return err
}

// item adds a stroke or a label of a page whose upper edge is at topMM.
func (x *dxfWriter) item(it any, topMM float64) error {
	switch v := it.(type) {
	case stroke:
		if v.fill > 200 && v.widthMM == 0 || len(v.pts) < 2 {
			return nil // white paper under a mark
		}
		for _, piece := range dashes(v) {
			if err := x.polyline(v.layer, piece, v.isClosed && v.dashMM == 0, topMM); err != nil {
				return err
			}
		}
		if v.fill >= 0 && v.fill <= 200 {
			return x.hatch(v, topMM)
		}
	case label:
		return x.text(v, topMM)
	}
	return nil
}

func (x *dxfWriter) polyline(layer string, pts []point, isClosed bool, topMM float64) error {
	at, err := x.layer(layer)
	if err != nil {
		return err
	}
	e := entity.NewLwPolyline(len(pts))
	e.Closed = isClosed
	for i, q := range pts {
		e.Vertices[i] = []float64{q.x * x.mmToUnit, (topMM - q.y) * x.mmToUnit}
	}
	e.SetLayer(at)
	x.d.AddEntity(e)
	return nil
}

// hatch fills a convex area with level lines, the closer the darker.
func (x *dxfWriter) hatch(v stroke, topMM float64) error {
	least, most := math.Inf(1), math.Inf(-1)
	for _, q := range v.pts {
		least, most = min(least, q.y), max(most, q.y)
	}
	step := 0.25 + float64(v.fill)/255
	for y := least + step/2; y < most; y += step {
		from, to := math.Inf(1), math.Inf(-1)
		for i, a := range v.pts {
			b := v.pts[(i+1)%len(v.pts)]
			if (a.y > y) == (b.y > y) {
				continue
			}
			at := a.x + (y-a.y)/(b.y-a.y)*(b.x-a.x)
			from, to = min(from, at), max(to, at)
		}
		if to > from {
			if err := x.polyline(v.layer, []point{{from, y}, {to, y}}, false, topMM); err != nil {
				return err
			}
		}
	}
	return nil
}

func (x *dxfWriter) text(v label, topMM float64) error {
	at, err := x.layer(v.layer)
	if err != nil {
		return err
	}
	e := entity.NewText()
	e.Value, e.Style, e.WidthFactor, e.Rotation = dxfText(v.text), x.style, 1, v.angle
	e.Height = 0.72 * v.sizeMM * x.mmToUnit // height of capitals, which a text's height is in CAD
	anchor := map[string]int{"start": entity.LEFT_BOTTOM, "middle": entity.CENTER_BOTTOM, "end": entity.RIGHT_BOTTOM}[v.anchor]
	e.Anchor(anchor) // bottom, since the library writes no second point for texts on their baseline
	sin, cos := math.Sincos(v.angle * math.Pi / 180)
	below := 0.21 * v.sizeMM // from the baseline to the lower end of letters
	e.Coord1 = []float64{(v.at.x + below*sin) * x.mmToUnit, (topMM - v.at.y - below*cos) * x.mmToUnit, 0}
	e.SetLayer(at)
	x.d.AddEntity(e)
	return nil
}

// layer is the layer of that name, made when it is first used.
func (x *dxfWriter) layer(name string) (*table.Layer, error) {
	if l := x.layers[name]; l != nil {
		return l, nil
	}
	paint := color.White // drawn black on white paper
	switch name {
	case layerPosts + strings.ToUpper(signs.ActionInstall):
		paint = color.Green
	case layerPosts + strings.ToUpper(signs.ActionMove), layerPosts + strings.ToUpper(signs.ActionReplace):
		paint = color.Blue
	case layerPosts + strings.ToUpper(signs.ActionRemove):
		paint = color.Red
	case layerPosts + strings.ToUpper(signs.ActionDecide):
		paint = color.Magenta
	}
	l, err := x.d.AddLayer(name, paint, table.LT_CONTINUOUS, false)
	if err != nil {
		return nil, err
	}
	x.layers[name] = l
	return l, nil
}

// dashes cuts a dashed stroke into its pieces, since line types of CAD depend on the scale of the
// view. A full stroke is returned as it is.
func dashes(v stroke) [][]point {
	if v.dashMM <= 0 {
		return [][]point{v.pts}
	}
	pts := v.pts
	if v.isClosed {
		pts = append(append([]point{}, pts...), pts[0])
	}
	var out [][]point
	left, isDrawn := v.dashMM, true
	piece := []point{pts[0]}
	for i := 1; i < len(pts); {
		a, b := piece[len(piece)-1], pts[i]
		l := math.Hypot(b.x-a.x, b.y-a.y)
		if l <= left {
			piece, left, i = append(piece, b), left-l, i+1
			continue
		}
		c := point{a.x + (b.x-a.x)*left/l, a.y + (b.y-a.y)*left/l}
		if isDrawn {
			out = append(out, append(piece, c))
		}
		piece, left, isDrawn = []point{c}, v.dashMM, !isDrawn
	}
	if isDrawn && len(piece) > 1 {
		out = append(out, piece)
	}
	return out
}

// typographic are letters with a plain form.
var typographic = strings.NewReplacer("–", "-", "—", "-", "…", "...", "“", `"`, "”", `"`, "’", "'", "×", "x")

// dxfText writes a text as a DXF of that version reads it: one line of ASCII, other letters by
// number.
func dxfText(s string) string {
	s = typographic.Replace(s)
	var b strings.Builder
	for i, r := range s {
		switch {
		case r < ' ' || r == 0x7f:
			b.WriteByte(' ')
		case r == '%' && strings.HasPrefix(s[i:], "%%"), r == '\\' && strings.HasPrefix(s[i:], `\U+`), r == '^', r > 0x7e && r <= 0xffff:
			fmt.Fprintf(&b, `\U+%04X`, r)
		case r > 0xffff:
			b.WriteByte('?')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
