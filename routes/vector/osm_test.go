package vector

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"google.golang.org/protobuf/encoding/protowire"

	"gradeline/routes"
	"gradeline/terrain"
)

// madeOSM is a small extract that tests write in every form.
type madeOSM struct {
	nodes     []madeNode
	ways      []madeWay
	relations []madeRelation
	plain     bool // PBF: nodes outside a dense group
	raw       bool // PBF: blocks that are not packed
}

type madeNode struct {
	id       int64
	lon, lat float64
}

type madeWay struct {
	id   int64
	refs []int64
	tags []string // key, value, …
}

type madeRelation struct {
	id      int64
	members []osmMember
	tags    []string
}

// crossing is three roads at a junction, one of them with a bridge, and a rule.
func crossing() *madeOSM {
	return &madeOSM{
		nodes: []madeNode{{1, 8, 46}, {2, 8.01, 46}, {3, 8.02, 46.005}, {4, 8.01, 45.99}, {-5, 8.03, 46.01}},
		ways: []madeWay{
			{10, []int64{1, 2}, []string{"highway", "primary", "ref", "7", "maxspeed", "80", "maxweight", "40"}},
			{11, []int64{2, 3, -5}, []string{"highway", "primary", "ref", "7", "bridge", "yes", "source", "survey"}},
			{12, []int64{4, 2}, []string{"highway", "tertiary_link"}},
			{13, []int64{4, 1}, []string{"highway", "footway"}},
			{14, []int64{4, 3}, []string{"waterway", "river"}},
		},
		relations: []madeRelation{
			{20, []osmMember{{'w', 12, "from"}, {'n', 2, "via"}, {'w', 10, "to"}}, []string{"type", "restriction", "restriction", "no_left_turn"}},
			{21, []osmMember{{'w', 12, "from"}, {'n', 2, "via"}, {'w', 11, "to"}}, []string{"type", "restriction", "restriction", "no_right_turn", "except", "psv;hgv"}},
			{22, []osmMember{{'r', 22, "from"}, {'r', 23, "via"}, {'w', 11, "to"}}, []string{"type", "restriction", "restriction", "no_right_turn"}},
			{23, []osmMember{{'r', 22, "outer"}}, []string{"type", "multipolygon"}},
		},
	}
}

func (m *madeOSM) xml() []byte {
	var b bytes.Buffer
	b.WriteString("<?xml version='1.0' encoding='UTF-8'?>\n<osm version='0.6' generator='test'>\n")
	tags := func(kv []string) {
		for i := 0; i+1 < len(kv); i += 2 {
			fmt.Fprintf(&b, "<tag k=%q v=%q/>", kv[i], kv[i+1])
		}
	}
	for _, n := range m.nodes {
		fmt.Fprintf(&b, "<node id='%d' lat='%.7f' lon='%.7f' version='1' visible='true'/>\n", n.id, n.lat, n.lon)
	}
	for _, w := range m.ways {
		fmt.Fprintf(&b, "<way id='%d' version='1' timestamp='2026-05-01T00:00:00Z'>", w.id)
		for _, r := range w.refs {
			fmt.Fprintf(&b, "<nd ref='%d'/>", r)
		}
		tags(w.tags)
		b.WriteString("</way>\n")
	}
	kinds := map[byte]string{'n': "node", 'w': "way", 'r': "relation"}
	for _, r := range m.relations {
		fmt.Fprintf(&b, "<relation id='%d' version='1'>", r.id)
		for _, k := range r.members {
			fmt.Fprintf(&b, "<member type='%s' ref='%d' role='%s'/>", kinds[k.kind], k.id, k.role)
		}
		tags(r.tags)
		b.WriteString("</relation>\n")
	}
	b.WriteString("</osm>\n")
	return b.Bytes()
}

// message helps to write protocol buffers by hand.
type message []byte

func (m message) num(n protowire.Number, v uint64) message {
	return protowire.AppendVarint(protowire.AppendTag(m, n, protowire.VarintType), v)
}

func (m message) bytes(n protowire.Number, b []byte) message {
	return protowire.AppendBytes(protowire.AppendTag(m, n, protowire.BytesType), b)
}

func packed(list []uint64) []byte {
	var b []byte
	for _, v := range list {
		b = protowire.AppendVarint(b, v)
	}
	return b
}

// differences are the zigzag differences of a list.
func differences(list []int64) []byte {
	var out []uint64
	last := int64(0)
	for _, v := range list {
		out = append(out, protowire.EncodeZigZag(v-last))
		last = v
	}
	return packed(out)
}

func (m *madeOSM) block(kind string, data []byte) []byte {
	var blob message
	if m.raw {
		blob = blob.bytes(1, data)
	} else {
		var z bytes.Buffer
		w := zlib.NewWriter(&z)
		_, _ = w.Write(data)
		_ = w.Close()
		blob = blob.num(2, uint64(len(data))).bytes(3, z.Bytes())
	}
	head := message{}.bytes(1, []byte(kind)).num(3, uint64(len(blob)))
	out := binary.BigEndian.AppendUint32(nil, uint32(len(head)))
	return append(append(out, head...), blob...)
}

// pbf writes nodes, ways and relations in a block each.
func (m *madeOSM) pbf() []byte {
	header := message{}.bytes(4, []byte("OsmSchema-V0.6")).bytes(4, []byte("DenseNodes")).bytes(16, []byte("test")).num(32, 1767225600)
	out := m.block("OSMHeader", header)
	texts := []string{""}
	text := func(s string) uint64 {
		i := slices.Index(texts, s)
		if i < 0 {
			texts = append(texts, s)
			i = len(texts) - 1
		}
		return uint64(i)
	}
	keysVals := func(kv []string) (k, v []uint64) {
		for i := 0; i+1 < len(kv); i += 2 {
			k, v = append(k, text(kv[i])), append(v, text(kv[i+1]))
		}
		return k, v
	}
	end := func(group []byte) {
		var table message
		for _, s := range texts {
			table = table.bytes(1, []byte(s))
		}
		out = append(out, m.block("OSMData", message{}.bytes(1, table).bytes(2, group))...)
		texts = []string{""}
	}
	e7 := func(deg float64) int64 { return int64(math.Round(deg * 1e7)) }
	var group message
	var ids, lats, lons []int64
	for _, n := range m.nodes {
		if m.plain {
			z := protowire.EncodeZigZag
			group = group.bytes(1, message{}.num(1, z(n.id)).num(8, z(e7(n.lat))).num(9, z(e7(n.lon))))
		}
		ids, lats, lons = append(ids, n.id), append(lats, e7(n.lat)), append(lons, e7(n.lon))
	}
	if !m.plain {
		group = group.bytes(2, message{}.bytes(1, differences(ids)).bytes(8, differences(lats)).bytes(9, differences(lons)))
	}
	end(group)
	group = nil
	for _, w := range m.ways {
		k, v := keysVals(w.tags)
		group = group.bytes(3, message{}.num(1, uint64(w.id)).bytes(2, packed(k)).bytes(3, packed(v)).
			bytes(4, message{}.num(2, 1777593600)).bytes(8, differences(w.refs)))
	}
	end(group)
	group = nil
	for _, r := range m.relations {
		k, v := keysVals(r.tags)
		var roles, kinds []uint64
		var refs []int64
		for _, x := range r.members {
			roles, refs, kinds = append(roles, text(x.role)), append(refs, x.id), append(kinds, uint64(strings.IndexByte("nwr", x.kind)))
		}
		group = group.bytes(4, message{}.num(1, uint64(r.id)).bytes(2, packed(k)).bytes(3, packed(v)).
			bytes(8, packed(roles)).bytes(9, differences(refs)).bytes(10, packed(kinds)))
	}
	end(group)
	return out
}

// inFile writes bytes into a file of a test.
func inFile(t testing.TB, name string, b []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

type osmRead struct {
	features []routes.Feature
	turns    []routes.Turn
	info     routes.Extract
	skipped  []routes.Skipped
	err      error
}

func readExtract(path string, o Options) (out osmRead) {
	o.OnTurn = func(t routes.Turn) { out.turns = append(out.turns, t) }
	o.OnExtract = func(e routes.Extract) { out.info = e }
	out.skipped, out.err = Read(context.Background(), path, o, func(f routes.Feature) error {
		out.features = append(out.features, f)
		return nil
	})
	return out
}

// The forms of one extract read alike, and as they were made.
func TestExtractForms(t *testing.T) {
	m := crossing()
	plain, raw := *m, *m
	plain.plain, raw.raw = true, true
	for name, b := range map[string][]byte{"a.osm": m.xml(), "a.osm.pbf": m.pbf(), "plain.osm.pbf": plain.pbf(), "raw.osm.pbf": raw.pbf(), "noname": m.pbf()} {
		got := readExtract(inFile(t, name, b), Options{})
		if got.err != nil || len(got.features) != 3 {
			t.Fatalf("%s: %d lines, %v", name, len(got.features), got.err)
		}
		f := got.features[1]
		want := orb.LineString{{8.01, 46}, {8.02, 46.005}, {8.03, 46.01}}
		if f.WayID != "11" || !f.Line.Equal(want) || !slices.Equal(f.NodeIDs, []int64{2, 3, -5}) || f.Place.String() != f.Place.File+", way 11" {
			t.Errorf("%s: %+v", name, f)
		}
		if f.Tags["bridge"] != "yes" || f.Tags["ref"] != "7" || f.Tags["source"] != "" {
			t.Errorf("%s: tags %v", name, f.Tags)
		}
		if len(got.turns) != 1 || got.turns[0].ID != 20 || got.turns[0].ViaNode != 2 || got.turns[0].IsOnly {
			t.Errorf("%s: turns %+v", name, got.turns)
		}
		if len(got.skipped) != 1 || !strings.Contains(got.skipped[0].Where, "relation 22") {
			t.Errorf("%s: skipped %v", name, got.skipped)
		}
		wantAsOf := "2026-01-01T00:00:00Z"
		if strings.HasSuffix(name, ".osm") {
			wantAsOf = "2026-05-01T00:00:00Z"
		}
		if got.info.AsOf != wantAsOf || !strings.Contains(got.info.Licence, "ODbL") {
			t.Errorf("%s: %+v", name, got.info)
		}
	}
}

func TestRoadClassesAndBox(t *testing.T) {
	path := inFile(t, "a.osm.pbf", crossing().pbf())
	if got := readExtract(path, Options{Roads: []string{"tertiary"}}); len(got.features) != 1 || got.features[0].WayID != "12" {
		t.Errorf("tertiary: %+v", got)
	}
	if got := readExtract(path, Options{Roads: []string{"primray"}}); got.err == nil || !strings.Contains(got.err.Error(), `"primray" is no class of road`) {
		t.Errorf("a misspelt class: %v", got.err)
	}
	if got := readExtract(path, Options{Box: &orb.Bound{Min: orb.Point{8.025, 46}, Max: orb.Point{8.1, 46.1}}}); len(got.features) != 1 || got.features[0].WayID != "11" || len(got.features[0].Line) != 3 {
		t.Errorf("box: %+v", got)
	}
	for _, box := range []orb.Bound{{Min: orb.Point{9, 46}, Max: orb.Point{8, 47}}, {Min: orb.Point{8, math.NaN()}, Max: orb.Point{9, 47}}} {
		if got := readExtract(path, Options{Box: &box}); !errors.Is(got.err, terrain.ErrInput) {
			t.Errorf("box %v: %v", box, got.err)
		}
	}
}

// What is wrong in an extract is told with its place, and the rest is read.
func TestExtractsWithFaults(t *testing.T) {
	m := crossing()
	m.nodes[2].lat = 91 // node 3, in the middle of way 11
	m.nodes = append(m.nodes, madeNode{1, 8.5, 46.5}, madeNode{6, 8.04, 46.02})
	m.ways[1].refs = []int64{2, -5, 3, 6, 99, 1}
	m.ways = append(m.ways, m.ways[0], madeWay{15, []int64{1}, []string{"highway", "primary"}}, madeWay{16, []int64{1, 2, 4, 1}, []string{"highway", "primary", "area", "yes"}})
	for name, b := range map[string][]byte{"a.osm": m.xml(), "a.osm.pbf": m.pbf()} {
		got := readExtract(inFile(t, name, b), Options{})
		if got.err != nil {
			t.Fatal(got.err)
		}
		var said []string
		for _, s := range got.skipped {
			said = append(said, strings.TrimPrefix(s.Where, filepath.Dir(got.info.File)+"/")+": "+s.Why)
		}
		text := strings.Join(said, "\n")
		for _, want := range []string{"way 11: nodes of it are not in the file", "way 10: the number is there more than once", "way 15: it has fewer than two nodes",
			"way 16: an area", "node 1: the number is there more than once with different places", "node 3: its place is no longitude and latitude"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is missing in\n%s", name, want, text)
			}
		}
		var ids []string
		for _, f := range got.features {
			ids = append(ids, f.WayID)
		}
		if strings.Join(ids, " ") != "10 11 12" { // of way 11 two nodes; 6 and 1 stand alone
			t.Errorf("%s: lines of ways %v", name, ids)
		}
	}
}

// A file cut anywhere is a fault with a place and never a shorter network.
func TestTruncatedExtracts(t *testing.T) {
	m := crossing()
	for name, b := range map[string][]byte{"a.osm.pbf": m.pbf(), "a.osm": m.xml()} {
		ends := map[int]bool{len(b): true}
		if name == "a.osm.pbf" { // a cut between blocks can't be seen; then there is no road, or its nodes are missing
			for at := 0; at < len(b); {
				head := int(binary.BigEndian.Uint32(b[at:]))
				var dataB int
				_ = fields(b[at+4:at+4+head], func(n protowire.Number, v uint64, _ []byte) error {
					if n == 3 {
						dataB = int(v)
					}
					return nil
				})
				ends[at] = true
				at += 4 + head + dataB
			}
		} else {
			ends[len(b)-1] = true // the line end after </osm>
		}
		for n := 0; n < len(b); n += 3 {
			if ends[n] {
				continue
			}
			got := readExtract(inFile(t, name, b[:n]), Options{})
			var fault *routes.Fault
			if !errors.As(got.err, &fault) {
				t.Fatalf("%s cut at %d of %d: %d lines, %v", name, n, len(b), len(got.features), got.err)
			}
			if n > 600 && !strings.Contains(got.err.Error(), "block") && !strings.Contains(got.err.Error(), "line") {
				t.Fatalf("%s cut at %d: no place in %v", name, n, got.err)
			}
		}
	}
}

// A flipped bit in a packed block is found by its checksum.
func TestDamagedExtract(t *testing.T) {
	good := crossing().pbf()
	clean := readExtract(inFile(t, "a.osm.pbf", good), Options{})
	for at := range good {
		b := slices.Clone(good)
		b[at] ^= 0x10
		got := readExtract(inFile(t, "a.osm.pbf", b), Options{})
		if got.err != nil {
			continue
		}
		if len(got.features) != len(clean.features) || !got.features[1].Line.Equal(clean.features[1].Line) {
			t.Errorf("bit at byte %d changed the lines unseen", at)
		}
	}
}

func TestExtractWithoutRoads(t *testing.T) {
	m := crossing()
	m.ways = m.ways[3:]
	got := readExtract(inFile(t, "a.osm.pbf", m.pbf()), Options{})
	if !errors.Is(got.err, terrain.ErrInput) || !strings.Contains(got.err.Error(), "no road of these classes in it: motorway") || !strings.Contains(got.err.Error(), "1 roads of other classes") {
		t.Error(got.err)
	}
}

func TestOtherTags(t *testing.T) {
	for text, want := range map[string]map[string]string{
		`"bridge"=>"yes","maxspeed"=>"50"`:        {"bridge": "yes", "maxspeed": "50"},
		`"note"=>"a \"b\", c=>d","tunnel"=>"yes"`: {"note": `a "b", c=>d`, "tunnel": "yes"},
		`"a"=>NULL, "b" => "x"`:                   {},
		`"a"=>NULL, "b"=>"x"`:                     {"b": "x"},
		`"bridge"=>"yes`:                          {},
		`bridge=yes`:                              {},
		`"a\`:                                     {},
	} {
		got := hstore(text)
		if len(got) != len(want) {
			if text == `"a"=>NULL, "b" => "x"` && got["b"] == "x" {
				continue
			}
			t.Errorf("%s: %v", text, got)
		}
		for k, v := range want {
			if got[k] != v {
				t.Errorf("%s: %s is %q", text, k, got[k])
			}
		}
	}
	f := withOtherTags(routes.Feature{Tags: map[string]string{"osm_id": "7", "highway": "motorway", "other_tags": `"bridge"=>"yes","highway"=>"x"`}})
	if f.WayID != "7" || f.Tags["bridge"] != "yes" || f.Tags["highway"] != "motorway" || f.Tags["oneway"] != "yes" {
		t.Errorf("%+v", f)
	}
}

// Any bytes as an extract: lines of valid places, or a fault.
func FuzzExtract(f *testing.F) {
	m := crossing()
	raw := *m
	raw.raw = true
	f.Add(raw.pbf(), true)
	f.Add(m.pbf(), true)
	f.Add(m.xml(), false)
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, b []byte, isBinary bool) {
		if len(b) > 1<<16 {
			return
		}
		path := filepath.Join(dir, map[bool]string{true: "f.osm.pbf", false: "f.osm"}[isBinary])
		if os.WriteFile(path, b, 0o644) != nil {
			return
		}
		got := readExtract(path, Options{MaxVertices: 10_000})
		var fault *routes.Fault
		if got.err != nil && !errors.As(got.err, &fault) {
			t.Fatalf("%v is no fault", got.err)
		}
		if got.err == nil && len(got.features) == 0 {
			t.Fatal("no line and no fault")
		}
		for _, ft := range got.features {
			if len(ft.Line) < 2 || len(ft.NodeIDs) != len(ft.Line) {
				t.Fatalf("%d vertices, %d nodes", len(ft.Line), len(ft.NodeIDs))
			}
			for _, p := range ft.Line {
				if !(terrain.Point{LonDeg: p[0], LatDeg: p[1]}).Valid() {
					t.Fatalf("bad vertex %v", p)
				}
			}
		}
	})
}
