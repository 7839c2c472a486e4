package vector

import (
	"encoding/binary"
	"errors"
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
	if got := readExtract(path, Options{Roads: []string{"primray"}}); got.err == nil || !strings.Contains(got.err.Error(), `"primray" is not a class of road`) {
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
		for _, want := range []string{"way 11: nodes of it are not in the file", "way 10: the number occurs more than once", "way 15: it has fewer than two nodes",
			"way 16: an area", "node 1: the number occurs more than once with different places", "node 3: its place is not a longitude and latitude"} {
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
