package spread

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/catalog/survey"
	"gradeline/routes"
)

// Routes and grade lines travel through the database as packed bytes: long columns of figures, and
// the rest as JSON text, which also gives every figure back exactly and refuses what is no number.
// A check sum ends them.

var crcTable = crc32.MakeTable(crc32.Castagnoli)

// packed makes the stored form of JSON text and columns.
func packed(rest any, columns []byte) ([]byte, error) {
	text, err := json.Marshal(rest)
	if err != nil {
		return nil, err
	}
	b := binary.AppendUvarint(nil, uint64(len(text))+1)
	b, err = squeezed(append(append(b, text...), columns...))
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, crcTable)), err
}

// unpacked reads JSON text into rest and returns a reader of the columns.
func unpacked(b []byte, rest any) (*columnReader, error) {
	n := len(b) - 4
	if n < 0 || crc32.Checksum(b[:n], crcTable) != binary.LittleEndian.Uint32(b[n:]) {
		return nil, errDamaged
	}
	plain, err := unsqueezed(b[:n])
	if err != nil {
		return nil, err
	}
	r := &columnReader{b: plain}
	text := r.bytes()
	if r.isDamaged || json.Unmarshal(text, rest) != nil {
		return nil, errDamaged
	}
	return r, nil
}

// end reports damage where something was missing or is left.
func (r *columnReader) end() error {
	if r.isDamaged || len(r.b) > 0 {
		return errDamaged
	}
	return nil
}

func appendPoints(b []byte, points []orb.Point) []byte {
	if points == nil {
		return appendColumn(appendColumn(b, nil), nil)
	}
	lon, lat := make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		lon[i], lat[i] = p[0], p[1]
	}
	return appendColumn(appendColumn(b, lon), lat)
}

func (r *columnReader) points() []orb.Point {
	lon, lat := r.column(), r.column()
	if len(lon) != len(lat) {
		r.fail()
	}
	if lon == nil || r.isDamaged {
		return nil
	}
	out := make([]orb.Point, len(lon))
	for i := range out {
		out[i] = orb.Point{lon[i], lat[i]}
	}
	return out
}

// packRoute is a route as a job carries it. Equal routes give equal bytes.
func packRoute(r *routes.Route) ([]byte, error) {
	rest := *r
	rest.Line, rest.VertexM, rest.Incline = nil, nil, nil
	var grades []float64 // of the inclines: some are no number, which JSON does not have
	if r.Incline != nil {
		grades = make([]float64, 0, len(r.Incline))
	}
	for _, k := range r.Incline {
		grades = append(grades, k.FromM, k.ToM, k.GradePct, float64(k.Sign))
	}
	return packed(rest, appendColumn(appendColumn(appendPoints(nil, r.Line), r.VertexM), grades))
}

func unpackRoute(b []byte) (*routes.Route, error) {
	r := &routes.Route{}
	c, err := unpacked(b, r)
	if err != nil {
		return nil, err
	}
	r.Line, r.VertexM = c.points(), c.column()
	grades := c.column()
	if grades != nil {
		r.Incline = make([]routes.Incline, 0, len(grades)/4)
	}
	for ; len(grades) >= 4; grades = grades[4:] {
		r.Incline = append(r.Incline, routes.Incline{FromM: grades[0], ToM: grades[1], GradePct: grades[2], Sign: int(grades[3])})
	}
	if len(grades) > 0 {
		c.fail()
	}
	return r, c.end()
}

// keyOf names a packed route: its grade line depends on nothing else of the road files.
func keyOf(packedRoute []byte) string {
	sum := sha256.Sum256(packedRoute)
	return hex.EncodeToString(sum[:16])
}

// lineRest is what of a grade line is not in columns.
type lineRest struct {
	Profile  routes.Profile
	Stations int
}

// packLine is the record of a finished route.
func packLine(l *survey.GradeLine) ([]byte, error) {
	p := l.Profile
	rest := lineRest{*p, l.Stations}
	q := &rest.Profile
	q.GroundM, q.ElevationM, q.EaseM, q.LateralM, q.RadiusM, q.Points, q.State = nil, nil, nil, nil, nil, nil, nil
	q.Noise, q.CellM, q.MissingM = routes.Noise{}, 0, 0
	b := appendPoints(nil, p.Points)
	b = appendColumn(b, []float64{p.Noise.SigmaM, p.Noise.TauM, p.CellM, p.MissingM}) // JSON has no NaN
	for _, column := range columnsOf(p) {
		b = appendColumn(b, *column)
	}
	b = binary.AppendUvarint(b, uint64(len(p.State))+1)
	for _, s := range p.State {
		b = append(b, byte(s))
	}
	return packed(rest, b)
}

func columnsOf(p *routes.Profile) []*[]float64 {
	return []*[]float64{&p.GroundM, &p.ElevationM, &p.EaseM, &p.LateralM, &p.RadiusM}
}

func unpackLine(b []byte) (survey.GradeLine, error) {
	var rest lineRest
	c, err := unpacked(b, &rest)
	if err != nil {
		return survey.GradeLine{}, err
	}
	p := &rest.Profile
	p.Points = c.points()
	if some := c.column(); len(some) == 4 {
		p.Noise, p.CellM, p.MissingM = routes.Noise{SigmaM: some[0], TauM: some[1]}, some[2], some[3]
	} else {
		c.fail()
	}
	for _, column := range columnsOf(p) {
		*column = c.column()
	}
	for _, s := range c.bytes() {
		p.State = append(p.State, routes.StationState(s))
	}
	if err := c.end(); err != nil {
		return survey.GradeLine{}, err
	}
	if n := len(p.ElevationM); n == 0 || len(p.Points) != n || len(p.State) != n || slices.Max(p.State) > routes.OutsideTerrain {
		return survey.GradeLine{}, fmt.Errorf("a grade line of %d heights at %d places: %w", n, len(p.Points), errDamaged)
	}
	return survey.GradeLine{Profile: p, Stations: rest.Stations}, nil
}
