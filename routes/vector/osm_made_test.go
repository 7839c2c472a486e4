package vector

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protowire"

	"gradeline/routes"
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
