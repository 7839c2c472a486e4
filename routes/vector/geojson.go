package vector

import (
	"context"
	"fmt"
	"io"

	"gradeline/routes"
)

// reader turns a stream of GeoJSON texts into features.
type reader struct {
	*scanner
	out  emitter
	opts Options

	// The object being read, reused from feature to feature.
	pts    coords
	parts  []part
	others kinds // geometries that are not lines
	props  properties
}

// part is one line of a geometry: vertices from..to of reader.pts.
type part struct {
	from, to int
	bad      string // why it is not a line
}

// object is a JSON object of GeoJSON after reading.
type object struct {
	typ                                 string
	hasGeometry, hasCoords, hasFeatures bool
	hasGeometries                       bool

	start   int    // of its coordinates in reader.pts
	ends    []int  // of its lines there
	nesting int    // of a position
	bad     string // why its coordinates are not valid
}

func readGeoJSON(ctx context.Context, file string, r io.Reader, opts Options, fn func(routes.Feature) error) ([]routes.Skipped, error) {
	rd := &reader{scanner: newScanner(ctx, file, r), opts: opts, out: emitter{file: file, fn: fn}}
	err := rd.texts()
	if rd.err != nil {
		err = rd.err // a read error takes precedence over bad syntax
	}
	if err == nil {
		err = rd.out.finish()
	}
	return rd.out.skipped.list(), err
}

// texts reads the JSON texts of the stream one after another.
func (rd *reader) texts() error {
	s := rd.scanner
	s.need(3)
	if b := s.buf; b[0] == 0xef && b[1] == 0xbb && b[2] == 0xbf {
		s.pos = 3
	}
	if b := s.buf; b[0] == 0x1f && b[1] == 0x8b {
		return s.fault("is compressed (gzip)", "decompress it first, or pipe it in through gzip -dc")
	}
	for n := 0; ; n++ {
		for s.peek() == 0x1e { // RFC 8142 record separator
			s.pos++
		}
		c := s.peek()
		if s.err != nil {
			return s.err
		}
		if c == 0 && s.pos >= s.end {
			if n == 0 {
				return s.fault("is empty", "")
			}
			return nil
		}
		if c != '{' {
			return s.unexpected("'{' of a GeoJSON object")
		}
		if err := rd.top(); err != nil {
			return err
		}
	}
}

// top reads one text: a collection, a feature or a bare geometry.
func (rd *reader) top() error {
	rd.reset()
	before := rd.feature
	o, err := rd.object(1, atTop)
	if err != nil {
		return err
	}
	switch {
	case o.typ == "FeatureCollection":
		if !o.hasFeatures {
			return rd.fault("a FeatureCollection without features", "export it again")
		}
		return nil
	case o.hasFeatures && rd.feature > before:
		return rd.fault(fmt.Sprintf("features in an object of type %q", o.typ), `its type must be "FeatureCollection"`)
	case o.typ == "Feature", isGeometryType(o.typ):
		rd.feature++
		return rd.finishFeature(o)
	case o.typ == "Topology":
		return rd.fault("is TopoJSON, not GeoJSON", "convert it to GeoJSON")
	case o.typ == "":
		return rd.fault("a JSON object without a type: not GeoJSON", "use a Feature, a FeatureCollection or a geometry")
	}
	return rd.fault(fmt.Sprintf("an object of type %q: not GeoJSON", cleanText(o.typ)), "use a Feature, a FeatureCollection or a geometry")
}

func (rd *reader) reset() {
	rd.pts.pts = rd.pts.pts[:0]
	rd.parts = rd.parts[:0]
	rd.others = kinds{}
	rd.props.reset()
}

// level is the place of an object; members with no meaning there are foreign.
type level uint8

const (
	atTop level = iota
	atFeature
	atGeometry
)

// object reads a GeoJSON object of any type into the reader's fields.
func (rd *reader) object(depth int, at level) (object, error) {
	o := object{start: len(rd.pts.pts)}
	err := rd.members(depth, func(key string) error {
		if o.isForeign(key, at, rd.peek()) {
			return rd.skip(depth + 1)
		}
		return rd.member(&o, key, depth+1)
	})
	if o.typ == "Feature" || o.typ == "FeatureCollection" {
		return o, err // coordinates were a foreign member
	}
	if err == nil && o.hasCoords {
		rd.geometry(&o)
	} else if err == nil && (o.typ == "LineString" || o.typ == "MultiLineString") {
		rd.parts = append(rd.parts, part{bad: "it has no coordinates"})
	}
	return o, err
}

// isForeign reports whether a member has no meaning at its place, from the object so far and the
// first byte of the value.
func (o *object) isForeign(key string, at level, first byte) bool {
	isGeometry := at == atGeometry || isGeometryType(o.typ)
	switch key {
	case "type":
		return first != '"'
	case "coordinates":
		return o.hasGeometry || o.hasGeometries || !isGeometry && o.typ != ""
	case "geometry", "properties":
		return isGeometry || first != '{'
	case "geometries":
		return first != '['
	case "features":
		return isGeometry || at != atTop || o.typ == "Feature" || first != '['
	}
	return key != "crs"
}

// member reads a member that is not foreign; depth is that of its value.
func (rd *reader) member(o *object, key string, depth int) error {
	switch key {
	case "type":
		b, err := rd.text()
		o.typ = rd.intern(b)
		return err
	case "coordinates":
		o.hasCoords = true
		rd.pts.pts, rd.pts.ends = rd.pts.pts[:o.start], rd.pts.ends[:0]
		err := rd.pts.read(rd.scanner, rd.opts.maxVertices())
		o.ends, o.nesting, o.bad = rd.pts.ends, rd.pts.level, rd.pts.bad
		return err
	case "geometry":
		o.hasGeometry = true
		rd.parts, rd.others = rd.parts[:0], kinds{}
		_, err := rd.object(depth, atGeometry)
		return err
	case "geometries":
		o.hasGeometries = true
		return rd.elements(depth, func() error {
			if rd.peek() != '{' {
				return rd.skip(depth + 1)
			}
			_, err := rd.object(depth+1, atGeometry)
			return err
		})
	case "properties":
		return rd.props.read(rd.scanner, depth)
	case "features":
		o.hasFeatures = true
		return rd.elements(depth, rd.feature1)
	}
	return rd.crs(depth)
}

// feature1 reads one element of a features array and passes it on.
func (rd *reader) feature1() error {
	rd.feature++
	if rd.peek() != '{' {
		rd.out.skip(rd.feature, "", "it is not a GeoJSON object")
		return rd.skip(3)
	}
	rd.reset()
	o, err := rd.object(3, atFeature)
	if err != nil {
		return err
	}
	return rd.finishFeature(o)
}

// finishFeature passes on the lines of the object just read.
func (rd *reader) finishFeature(o object) error {
	if o.typ != "Feature" && !isGeometryType(o.typ) {
		rd.out.skip(rd.feature, rd.props.name(), fmt.Sprintf("its type is %q, not Feature", cleanText(o.typ)))
		return nil
	}
	return rd.out.feature(rd)
}

// geometry adds the contents of a geometry object to parts or others.
func (rd *reader) geometry(o *object) {
	typ, start, bad := o.typ, o.start, o.bad
	if typ == "LineString" || typ == "MultiLineString" {
		want := 2
		if typ == "MultiLineString" {
			want = 3
		}
		switch {
		case bad == "" && o.nesting == 0:
			bad = "it has no vertices"
		case bad == "" && o.nesting != want:
			bad = "its coordinates are not nested as a " + typ + " needs"
		}
		if bad != "" {
			rd.pts.pts = rd.pts.pts[:start]
			rd.parts = append(rd.parts, part{bad: bad})
			return
		}
		from := start
		for _, to := range o.ends {
			rd.parts = append(rd.parts, part{from: from, to: to})
			from = to
		}
		return
	}
	rd.pts.pts = rd.pts.pts[:start]
	rd.others.add(typ)
}

func isGeometryType(typ string) bool {
	switch typ {
	case "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection":
		return true
	}
	return false
}

// kinds counts geometries that are not lines.
type kinds struct{ points, polygons, unknown int }

func (k *kinds) add(typ string) {
	switch typ {
	case "Point", "MultiPoint":
		k.points++
	case "Polygon", "MultiPolygon":
		k.polygons++
	default:
		k.unknown++
	}
}

func (k kinds) String() string {
	switch {
	case k.points > 0 && k.polygons == 0 && k.unknown == 0:
		return "it is a point, not a line"
	case k.polygons > 0 && k.points == 0 && k.unknown == 0:
		return "it is a polygon, not a line"
	}
	return "it holds points, polygons or unknown geometries, not lines"
}
