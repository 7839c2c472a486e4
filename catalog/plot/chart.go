package plot

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"math"
	"strconv"
	"strings"

	"golang.org/x/image/font"
	"gonum.org/v1/plot"
	gfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"gradeline/catalog/wording"
)

// Inks of the plots: black and greys only, so that even a copy of a copy is legible.
var (
	inkBlack = color.Gray{0}
	inkDark  = color.Gray{80}
	inkMid   = color.Gray{140}
	inkPale  = color.Gray{205}
	inkWash  = color.Gray{232}
	inkWhite = color.Gray{255}
)

// pngDPI is fine enough for a laser printer at the plots' size.
const pngDPI = 200

// Figure is a drawing of a fixed size that can be written as SVG or PNG.
type Figure struct {
	width, height vg.Length
	alt           string // description for readers who cannot see it
	paint         func(c draw.Canvas)
}

// Aspect is the height over the width.
func (f Figure) Aspect() float64 { return float64(f.height / f.width) }

// Alt describes the figure in words.
func (f Figure) Alt() string { return wording.Plain(f.alt) }

// SVG writes the figure as SVG, with a description for readers who cannot see it.
func (f Figure) SVG(w io.Writer) error {
	c := vgsvg.New(f.width, f.height)
	f.paint(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	var alt bytes.Buffer
	if err := xml.EscapeText(&alt, []byte(wording.Plain(f.alt))); err != nil {
		return err
	}
	s := strings.Replace(b.String(), "<svg ", `<svg role="img" `, 1)
	start := strings.Index(s, "<svg ")
	at := start + strings.Index(s[start:], ">") + 1
	_, err := io.WriteString(w, s[:at]+"\n<title>"+alt.String()+"</title>"+s[at:])
	return err
}

// PNG writes the figure as a PNG of 200 dots an inch.
func (f Figure) PNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(f.width, f.height), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(inkWhite))
	f.paint(draw.New(c))
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// typeface is the sans of the Liberation family, which is part of gonum/plot.
func typeface(sizePt float64, bold bool) text.Style {
	f := gfont.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(sizePt)}
	if bold {
		f.Weight = font.WeightBold
	}
	return text.Style{Color: inkBlack, Font: f, Handler: plot.DefaultTextHandler}
}

func stroke(c color.Color, widthPt float64, dashesPt ...float64) draw.LineStyle {
	s := draw.LineStyle{Color: c, Width: vg.Points(widthPt)}
	for _, d := range dashesPt {
		s.Dashes = append(s.Dashes, vg.Points(d))
	}
	return s
}

// panel makes an empty plot with axes in our style over the ranges given.
func panel(xLabel, yLabel string, x, y [2]float64) *plot.Plot {
	p := plot.New()
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = x[0], x[1], y[0], y[1]
	p.X.Label.Text, p.Y.Label.Text = xLabel, yLabel
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle = typeface(9, false)
		a.Label.TextStyle.XAlign, a.Label.TextStyle.YAlign = text.XCenter, text.YBottom
		a.Tick.Label = typeface(9, false)
		a.LineStyle, a.Tick.LineStyle = stroke(inkBlack, 0.8), stroke(inkBlack, 0.6)
		a.Tick.Length = vg.Points(4)
		a.Padding = 0
		a.Tick.Marker = plot.TickerFunc(ticks)
	}
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = text.XCenter, text.YTop
	p.Y.Tick.Label.XAlign, p.Y.Tick.Label.YAlign = text.XRight, -0.3
	p.Y.Label.Padding = vg.Points(4)
	p.X.Label.Padding = vg.Points(2)
	return p
}

// ticks returns four to ten labelled ticks at 1, 2 or 5 times a power of ten.
func ticks(lo, hi float64) []plot.Tick { return ticksBy(lo, hi, 6) }

// fewTicks is ticks for a low panel.
func fewTicks(lo, hi float64) []plot.Tick { return ticksBy(lo, hi, 4) }

// fewestTicks is ticks for a very low panel: two where that is possible, since one gives no scale.
func fewestTicks(lo, hi float64) []plot.Tick {
	for most := 2.0; ; most++ {
		out := ticksBy(lo, hi, most)
		if most > 2 && len(out) > 2 { // the panel has no room for more
			out = []plot.Tick{out[0], out[len(out)-1]}
		}
		if len(out) >= 2 || most == 4 {
			return out
		}
	}
}

func ticksBy(lo, hi, most float64) []plot.Tick {
	step := niceStep((hi - lo) / most)
	decimals := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	var out []plot.Tick
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9; k++ {
		s := strconv.FormatFloat(math.Abs(k*step), 'f', decimals, 64)
		for i := strings.IndexByte(s+".", '.') - 3; i > 0; i -= 3 {
			s = s[:i] + "," + s[i:]
		}
		if k < 0 {
			s = "−" + s
		}
		out = append(out, plot.Tick{Value: k * step, Label: s})
	}
	return out
}

// unlabelled returns the same ticks without their numbers.
func unlabelled(lo, hi float64) []plot.Tick {
	out := ticks(lo, hi)
	for i := range out {
		out[i].Label = ""
	}
	return out
}

func niceStep(raw float64) float64 {
	if !(raw > 0) || math.IsInf(raw, 0) {
		return 1
	}
	pow := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*pow*(1+1e-9) {
			return m * pow
		}
	}
	return 10 * pow
}

// painter lets a function draw inside a panel.
type painter func(c draw.Canvas, x, y func(float64) vg.Length)

// Plot implements plot.Plotter.
func (f painter) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	f(c, x, y)
}

// grid draws pale lines at the y axis's ticks.
func grid(p *plot.Plot) painter {
	return func(c draw.Canvas, _, y func(float64) vg.Length) {
		for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
			c.StrokeLine2(stroke(inkWash, 0.6), c.Min.X, y(t.Value), c.Max.X, y(t.Value))
		}
	}
}

// curve draws a line, broken where a figure is missing, clipped to the panel.
func curve(c draw.Canvas, s draw.LineStyle, xs, ys []float64, x, y func(float64) vg.Length) {
	var part []vg.Point
	flush := func() {
		if len(part) > 1 {
			c.StrokeLines(s, c.ClipLinesXY(part)...)
		}
		part = nil
	}
	for i := range xs {
		if math.IsNaN(ys[i]) || math.IsInf(ys[i], 0) {
			flush()
			continue
		}
		part = append(part, vg.Point{X: x(xs[i]), Y: y(ys[i])})
	}
	flush()
}

func box(x0, y0, x1, y1 vg.Length) []vg.Point {
	return []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// hatch fills a box with slanted lines, which print better than a tint.
func hatch(c draw.Canvas, s draw.LineStyle, x0, y0, x1, y1 vg.Length) {
	const gap = 5
	h := y1 - y0
	for t := math.Floor(float64(x0-h)/gap) * gap; t < float64(x1); t += gap {
		// The line x = t + (y − y0), cut to the box.
		a, b := math.Max(float64(x0), t), math.Min(float64(x1), t+float64(h))
		if a < b {
			c.StrokeLine2(s, vg.Length(a), y0+vg.Length(a-t), vg.Length(b), y0+vg.Length(b-t))
		}
	}
}

// stack draws panels of the given heights one above the other, from the top
// down, their data areas aligned, and returns those areas.
func stack(c draw.Canvas, ps []*plot.Plot, heights []vg.Length) []draw.Canvas {
	areas := make([]draw.Canvas, len(ps))
	top := c.Max.Y
	left, right := c.Min.X, c.Max.X
	for i, p := range ps {
		areas[i] = c
		areas[i].Max.Y, areas[i].Min.Y = top, top-heights[i]
		top -= heights[i]
		d := p.DataCanvas(areas[i])
		left, right = max(left, d.Min.X), min(right, d.Max.X)
	}
	out := make([]draw.Canvas, len(ps))
	for i, p := range ps {
		d := p.DataCanvas(areas[i])
		areas[i].Min.X += left - d.Min.X
		areas[i].Max.X -= d.Max.X - right
		p.Draw(areas[i])
		out[i] = p.DataCanvas(areas[i])
	}
	return out
}

// dataMargins measures the space of a panel's axes left and right of its data, on a canvas that is
// discarded.
func dataMargins(p *plot.Plot, width vg.Length) (left, right vg.Length) {
	c := draw.NewCanvas(vgsvg.New(width, width), width, width)
	d := p.DataCanvas(c)
	return d.Min.X, width - d.Max.X
}

// labelUnit writes "Elevation, ft".
func labelUnit(what, unit string) string { return fmt.Sprintf("%s, %s", what, unit) }
