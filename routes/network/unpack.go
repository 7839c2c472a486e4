package network

import (
	"encoding/binary"
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// unpacker reads packed figures. After the first that does not fit, isDamaged is set and every
// further figure is 0.
type unpacker struct {
	b         []byte
	isDamaged bool
}

func (u *unpacker) fail() { u.b, u.isDamaged = nil, true }

func (u *unpacker) byte() byte {
	if len(u.b) == 0 {
		u.fail()
		return 0
	}
	v := u.b[0]
	u.b = u.b[1:]
	return v
}

func (u *unpacker) uvarint() uint64 {
	v, n := binary.Uvarint(u.b)
	if n <= 0 {
		u.fail()
		return 0
	}
	u.b = u.b[n:]
	return v
}

func (u *unpacker) varint() int64 {
	v, n := binary.Varint(u.b)
	if n <= 0 {
		u.fail()
		return 0
	}
	u.b = u.b[n:]
	return v
}

func (u *unpacker) float() float64 {
	if len(u.b) < 8 {
		u.fail()
		return 0
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(u.b))
	u.b = u.b[8:]
	return v
}

// count reads a number that must be at most most; 0 where it is not.
func (u *unpacker) count(most uint64) int {
	v := u.uvarint()
	if v > most {
		u.fail()
		return 0
	}
	return int(v)
}

// part reads a length and then that number of bytes.
func (u *unpacker) part() []byte {
	n := u.count(uint64(len(u.b)))
	if n > len(u.b) {
		u.fail()
		return nil
	}
	out := u.b[:n]
	u.b = u.b[n:]
	return out
}

func (u *unpacker) readTexts() []string {
	n := u.count(uint64(len(u.b)))
	p := unpacker{b: u.part()}
	all := string(p.b) // one copy; the texts are parts of it
	if n > len(all) {
		u.fail()
		return nil
	}
	out := make([]string, n)
	for i := range out {
		size := p.count(uint64(len(p.b)))
		if size > len(p.b) {
			p.fail()
			break
		}
		at := len(all) - len(p.b)
		out[i], p.b = all[at:at+size], p.b[size:]
	}
	if p.isDamaged || len(p.b) > 0 {
		u.fail()
	}
	return out
}

// readSets also returns the marks of each set.
func (u *unpacker) readSets(texts []string) (sets []map[string]string, marks []lineMarks) {
	n := u.count(uint64(len(u.b)))
	p := unpacker{b: u.part()}
	if n > len(p.b) {
		u.fail()
		return nil, nil
	}
	sets, marks = make([]map[string]string, n), make([]lineMarks, n)
	for i := range sets {
		size := p.count(uint64(len(p.b)))
		if size > 0 {
			sets[i] = make(map[string]string, size)
		}
		for range size {
			k, v := p.uvarint(), p.uvarint()
			if p.isDamaged || k >= uint64(len(texts)) || v >= uint64(len(texts)) {
				u.fail()
				return nil, nil
			}
			sets[i][texts[k]] = texts[v]
			marks[i].add(texts[k], texts[v])
		}
	}
	if p.isDamaged || len(p.b) > 0 {
		u.fail()
	}
	return sets, marks
}

// lineReader reads the lines of a graph into it.
type lineReader struct {
	unpacker
	texts    []string
	sets     []map[string]string
	marks    []lineMarks
	vertices []orb.Point // remaining vertices of all lines together
	stops    []stop
	g        *Graph
}

func (r *lineReader) text() string {
	n := r.uvarint()
	if n >= uint64(len(r.texts)) {
		r.fail()
		return ""
	}
	return r.texts[n]
}

func (r *lineReader) readLine() {
	var f routes.Feature
	set := r.uvarint()
	if set >= uint64(len(r.sets)) {
		r.fail()
		return
	}
	f.Tags, f.Place.File = r.sets[set], r.text()
	flags := r.uvarint()
	f.Place.Feature, f.Place.IsWay = int(r.varint()), flags&1 == 1
	if flags&2 == 2 {
		f.WayID = strconv.Itoa(f.Place.Feature)
	} else {
		f.WayID = r.text()
	}
	for range r.count(uint64(len(r.b)) / 18) {
		f.Structures = append(f.Structures, routes.Structure{Kind: routes.StructureKind(r.byte()), FromM: r.float(), ToM: r.float(), Flagged: r.byte() == 1})
	}
	r.readVertices(&f)
	r.readStops(&f)
	lengthM := r.float()
	if !(lengthM >= 0) || math.IsInf(lengthM, 1) {
		r.fail()
	}
	if r.isDamaged {
		return
	}
	r.g.features = append(r.g.features, f)
	r.g.bounds = append(r.g.bounds, f.Line.Bound())
	r.g.addLine(&f, r.stops, lengthM, r.marks[set])
}

func (r *lineReader) readVertices(f *routes.Feature) {
	n := r.count(uint64(len(r.vertices)))
	if n < 2 {
		r.fail()
		return
	}
	f.Line, r.vertices = orb.LineString(r.vertices[:n:n]), r.vertices[n:]
	var x, y int64
	for i := range f.Line {
		x += r.varint()
		y += r.varint()
		if x < -180*placesInDeg || x > 180*placesInDeg || y < -90*placesInDeg || y > 90*placesInDeg {
			r.fail()
			return
		}
		f.Line[i] = orb.Point{float64(x) / placesInDeg, float64(y) / placesInDeg}
	}
}

// readStops reads the nodes on a line, which give the nodes their places.
func (r *lineReader) readStops(f *routes.Feature) {
	r.stops = r.stops[:0]
	var s stop
	for i := range r.count(uint64(len(f.Line))) {
		step := r.uvarint()
		node := int64(s.node) + r.varint()
		atM := r.float()
		if step > uint64(len(f.Line)) || i > 0 && step == 0 || node < 0 || node >= int64(len(r.g.points)) || !(atM >= s.atM) || math.IsInf(atM, 1) {
			r.fail()
			return
		}
		s = stop{s.vertex + int32(step), int32(node), atM}
		if int(s.vertex) >= len(f.Line) {
			r.fail()
			return
		}
		r.g.points[s.node] = f.Line[s.vertex]
		r.stops = append(r.stops, s)
	}
}
