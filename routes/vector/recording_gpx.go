package vector

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"

	"gradeline/routes"
	"gradeline/terrain"
)

// gpxDepth caps how deep elements may nest; GPX needs seven.
const gpxDepth = 64

// gpxReader is the state of reading one GPX document.
type gpxReader struct {
	*recorder
	path    []string // names of the elements that are open
	text    strings.Builder
	fix     routes.Fix
	part    int
	hasRoot bool
	isPoint bool // a fix is being read
	isDated bool
}

// gpx reads track points as a stream: memory holds the fixes, not the document.
func (b *recorder) gpx(in io.Reader) error {
	dec := xml.NewDecoder(in)
	dec.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		if l := strings.ToLower(label); l == "us-ascii" || l == "ascii" {
			return r, nil
		}
		return nil, errors.New("a GPX file is UTF-8, and this one declares " + label)
	}
	g := gpxReader{recorder: b, part: -1}
	for {
		tok, err := dec.Token()
		line, _ := dec.InputPos()
		if err == io.EOF && g.hasRoot && len(g.path) == 0 {
			return nil
		}
		if err != nil {
			return g.notWellFormed(line, err)
		}
		switch t := tok.(type) {
		case xml.StartElement:
			err = g.start(line, t)
		case xml.CharData:
			if g.text.Len()+len(t) <= 4096 {
				g.text.Write(t)
			}
		case xml.EndElement:
			err = g.end()
		}
		if err != nil {
			return err
		}
	}
}

// notWellFormed is the fault of a document that cannot be parsed further.
func (g *gpxReader) notWellFormed(line int, err error) error {
	var bad *xml.SyntaxError
	switch {
	case err == io.EOF:
		return g.fault(line, "ends before the end of the GPX document", "record or copy it again")
	case !errors.As(err, &bad) && !strings.HasPrefix(err.Error(), "xml:"):
		return &routes.Fault{Kind: terrain.ErrRead, File: g.file, Err: err, Fix: "check the file"}
	}
	f := g.fault(line, "not well-formed GPX", "record or copy it again")
	f.(*routes.Fault).Err = err
	return f
}

// start opens an element.
func (g *gpxReader) start(line int, t xml.StartElement) error {
	name := t.Name.Local
	if len(g.path) == 0 {
		if name != "gpx" {
			return g.fault(line, "its root element is <"+name+">, not <gpx>", "use a GPX track with times")
		}
		g.hasRoot = true
	}
	if len(g.path) >= gpxDepth {
		return g.fault(line, "elements nest deeper than GPX does", "record or copy it again")
	}
	g.path = append(g.path, name)
	g.text.Reset()
	switch strings.Join(g.path, "/") {
	case "gpx/trk/trkseg":
		g.part++
	case "gpx/trk/trkseg/trkpt":
		g.fix, g.isDated, g.isPoint = unknownFix(line, g.part), false, true
		for _, a := range t.Attr {
			switch a.Name.Local {
			case "lon":
				g.fix.LonDeg = degrees(a.Value)
			case "lat":
				g.fix.LatDeg = degrees(a.Value)
			}
		}
	}
	return nil
}

// end closes an element and stores its content.
func (g *gpxReader) end() error {
	says := strings.TrimSpace(g.text.String())
	g.text.Reset()
	element := strings.Join(g.path, "/")
	if len(g.path) > 0 {
		g.path = g.path[:len(g.path)-1]
	}
	if element == "gpx/trk/trkseg/trkpt" {
		return g.endPoint()
	}
	if of, ok := strings.CutPrefix(element, "gpx/trk/trkseg/trkpt/"); ok && g.isPoint {
		g.readOfPoint(of, says)
		return nil
	}
	switch element {
	case "gpx/trk/name", "gpx/metadata/name":
		if g.out.Name == g.file && says != "" {
			g.out.Name = says
		}
	case "gpx/trk/desc", "gpx/metadata/desc":
		if g.out.Note == "" {
			g.out.Note = says
		}
	}
	return nil
}

// readOfPoint stores the content of an element of the current point.
func (g *gpxReader) readOfPoint(element, says string) {
	v, isNumber := decimal(says)
	switch {
	case element == "time":
		g.fix.At, g.isDated = momentOf(says)
	case element == "ele" && isNumber && math.Abs(v) < mostHeightM:
		g.fix.HeightM = v
	case element == "speed" && isNumber:
		g.fix.SpeedMPS = v
	case strings.HasPrefix(element, "extensions/") && strings.HasSuffix(element, "/atemp") && isNumber:
		g.fix.TempC = v // TrackPointExtension of Garmin: degrees Celsius, of the recorder
	}
}

// endPoint keeps the point, or leaves it out where it has no time.
func (g *gpxReader) endPoint() error {
	g.isPoint = false
	if g.isDated {
		return g.add(g.fix)
	}
	g.undated++
	g.skip(g.fix.Line, "it has no time")
	return nil
}
