package vector

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"

	"gradeline/routes"
	"gradeline/terrain"
)

// gpxDepth caps how deep elements may nest; GPX needs seven.
const gpxDepth = 64

// gpx reads track points as a stream: memory holds the fixes and no document.
func (b *recorder) gpx(in io.Reader) error {
	dec := xml.NewDecoder(in)
	dec.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		if l := strings.ToLower(label); l == "us-ascii" || l == "ascii" {
			return r, nil
		}
		return nil, errors.New("a GPX file is UTF-8, and this says " + label)
	}
	var path []string
	var fix routes.Fix
	var text strings.Builder
	part, isDated, isPoint, hasRoot := -1, false, false, false
	for {
		tok, err := dec.Token()
		line, _ := dec.InputPos()
		if err == io.EOF {
			if !hasRoot || len(path) > 0 {
				return b.fault(line, "ends before the GPX document does", "record or copy it again")
			}
			return nil
		}
		if err != nil {
			var bad *xml.SyntaxError
			if !errors.As(err, &bad) && !strings.HasPrefix(err.Error(), "xml:") {
				return &routes.Fault{Kind: terrain.ErrRead, File: b.file, Err: err, Fix: "check the file"}
			}
			f := b.fault(line, "no well-formed GPX", "record or copy it again")
			f.(*routes.Fault).Err = err
			return f
		}
		switch t := tok.(type) {
		case xml.StartElement:
			name := t.Name.Local
			if len(path) == 0 {
				if name != "gpx" {
					return b.fault(line, "its root element is <"+name+">, not <gpx>", "give a GPX track with times")
				}
				hasRoot = true
			}
			if len(path) >= gpxDepth {
				return b.fault(line, "elements nest deeper than GPX does", "record or copy it again")
			}
			path = append(path, name)
			text.Reset()
			switch strings.Join(path, "/") {
			case "gpx/trk/trkseg":
				part++
			case "gpx/trk/trkseg/trkpt":
				fix, isDated, isPoint = unknownFix(line, part), false, true
				for _, a := range t.Attr {
					switch a.Name.Local {
					case "lon":
						fix.LonDeg = degrees(a.Value)
					case "lat":
						fix.LatDeg = degrees(a.Value)
					}
				}
			}
		case xml.CharData:
			if text.Len()+len(t) <= 4096 {
				text.Write(t)
			}
		case xml.EndElement:
			says := strings.TrimSpace(text.String())
			text.Reset()
			switch strings.Join(path, "/") {
			case "gpx/trk/name", "gpx/metadata/name":
				if b.out.Name == b.file && says != "" {
					b.out.Name = says
				}
			case "gpx/trk/desc", "gpx/metadata/desc":
				if b.out.Note == "" {
					b.out.Note = says
				}
			case "gpx/trk/trkseg/trkpt/time":
				if isPoint {
					fix.At, isDated = momentOf(says)
				}
			case "gpx/trk/trkseg/trkpt/speed":
				if v, ok := decimal(says); ok {
					fix.SpeedMPS = v
				}
			case "gpx/trk/trkseg/trkpt":
				isPoint = false
				if !isDated {
					b.undated++
					b.skip(fix.Line, "it has no time")
				} else if err := b.add(fix); err != nil {
					return err
				}
			}
			if len(path) > 0 {
				path = path[:len(path)-1]
			}
		}
	}
}
