package vector

import (
	"bytes"
	"compress/bzip2"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"testing"

	"github.com/paulmach/osm"
	"github.com/paulmach/osm/osmpbf"
)

// libraryData is a file of paulmach/osm's own test data, which the module cache
// holds beside the library.
func libraryData(t testing.TB, name string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/paulmach/osm").Output()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(strings.TrimSpace(string(out)), "testdata", name)
	if _, err := os.Stat(path); err != nil {
		t.Fatal(err)
	}
	return path
}

const (
	delaware = "delaware-latest.osm.pbf"
	andorra  = "andorra-latest.osm.bz2"
)

// Delaware as paulmach/osm/osmpbf reads it: the same ways, tags, nodes and places.
func TestDelawareAsTheLibraryReadsIt(t *testing.T) {
	path := libraryData(t, delaware)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	classes, err := roadClasses(nil)
	if err != nil {
		t.Fatal(err)
	}
	ways := map[int64]*osm.Way{}
	rules := 0
	nodes := map[osm.NodeID][2]float64{}
	s := osmpbf.New(context.Background(), f, 1)
	s.SkipNodes = true
	for s.Scan() {
		switch o := s.Object().(type) {
		case *osm.Way:
			if classes[o.Tags.Find("highway")] && o.Tags.Find("area") != "yes" {
				ways[int64(o.ID)] = o
				for _, n := range o.Nodes {
					nodes[n.ID] = [2]float64{}
				}
			}
		case *osm.Relation:
			if o.Tags.Find("type") == "restriction" {
				rules++
			}
		}
	}
	if s.Err() != nil {
		t.Fatal(s.Err())
	}
	_ = s.Close()
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		t.Fatal(err)
	}
	s = osmpbf.New(context.Background(), f, 1)
	s.SkipWays, s.SkipRelations = true, true
	for s.Scan() {
		n := s.Object().(*osm.Node)
		if _, ok := nodes[n.ID]; ok {
			nodes[n.ID] = [2]float64{n.Lon, n.Lat}
		}
	}
	if s.Err() != nil {
		t.Fatal(s.Err())
	}
	_ = s.Close()

	got := readExtract(path, Options{})
	if got.err != nil {
		t.Fatal(got.err)
	}
	// Ways that the library gives and that make no line are those with one node only.
	complete, short := map[int64]bool{}, 0
	for id, w := range ways {
		if complete[id] = len(w.Nodes) >= 2; !complete[id] {
			short++
			complete[id] = false
		}
	}
	if len(ways) < 8_000 || len(got.features) != len(ways)-short {
		t.Fatalf("%d lines; the library has %d ways, %d of one node; not used: %v", len(got.features), len(ways), short, got.skipped)
	}
	for _, ft := range got.features {
		id := int64(ft.Place.Feature)
		w := ways[id]
		if !complete[id] {
			continue
		}
		delete(complete, id)
		if w == nil || len(w.Nodes) != len(ft.Line) {
			t.Fatalf("way %s: %d vertices", ft.WayID, len(ft.Line))
		}
		for i, n := range w.Nodes {
			p := nodes[n.ID]
			if dx, dy := p[0]-ft.Line[i][0], p[1]-ft.Line[i][1]; dx*dx+dy*dy > 1e-15 || int64(n.ID) != ft.NodeIDs[i] {
				t.Fatalf("way %s, node %d: %v and %v", ft.WayID, n.ID, ft.Line[i], p)
			}
		}
		for _, tag := range w.Tags {
			if keptTags[tag.Key] && ft.Tags[tag.Key] != cleanText(tag.Value) {
				t.Fatalf("way %s: %s is %q, not %q", ft.WayID, tag.Key, ft.Tags[tag.Key], tag.Value)
			}
		}
	}
	for id, is := range complete {
		if is {
			t.Errorf("way %d is missing", id)
		}
	}
	if len(got.turns) == 0 || len(got.turns) > rules {
		t.Errorf("%d turn restrictions of %d in the file", len(got.turns), rules)
	}
	t.Logf("%d ways, %d restrictions of %d, as of %s", len(got.features), len(got.turns), rules, got.info.AsOf)
}

// Andorra as OGR reads it, and through osmium's conversion to PBF: the same lines.
func TestAndorraAsOGRAndOsmiumReadIt(t *testing.T) {
	if _, err := exec.LookPath("osmium"); err != nil {
		t.Fatal("needs Debian's osmium-tool")
	}
	path := libraryData(t, andorra)
	got := readExtract(path, Options{})
	if got.err != nil {
		t.Fatal(got.err)
	}
	lines := func(o osmRead) map[string]int {
		out := map[string]int{}
		for _, f := range o.features {
			out[f.WayID] = len(f.Line)
		}
		return out
	}
	ours := lines(got)

	dir := t.TempDir()
	plain, pbf := filepath.Join(dir, "a.osm"), filepath.Join(dir, "a.osm.pbf")
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := os.Create(plain)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, bzip2.NewReader(in)); err != nil {
		t.Fatal(err)
	}
	_ = out.Close()
	if b, err := exec.Command("osmium", "cat", plain, "-o", pbf).CombinedOutput(); err != nil {
		t.Fatalf("osmium: %v %s", err, b)
	}
	again := readExtract(pbf, Options{})
	if again.err != nil {
		t.Fatal(again.err)
	}
	if len(again.turns) != len(got.turns) {
		t.Errorf("%d restrictions in the XML, %d in the PBF", len(got.turns), len(again.turns))
	}
	same(t, "osmium's PBF", ours, lines(again))

	b, err := exec.Command("ogr2ogr", "-f", "GeoJSONSeq", "/vsistdout/", pbf, "lines", "-where",
		"highway IN ('motorway','motorway_link','trunk','trunk_link','primary','primary_link','secondary','secondary_link','tertiary','tertiary_link')").Output()
	if err != nil {
		t.Fatal(err)
	}
	theirs := map[string]int{}
	for _, line := range bytes.Split(bytes.TrimSpace(b), []byte("\n")) {
		var f struct {
			Properties struct {
				ID string `json:"osm_id"`
			}
			Geometry struct{ Coordinates [][]float64 }
		}
		if err := json.Unmarshal(bytes.Trim(line, "\x1e"), &f); err != nil {
			t.Fatal(err)
		}
		theirs[f.Properties.ID] = len(f.Geometry.Coordinates)
	}
	same(t, "OGR", ours, theirs)
	t.Logf("%d ways", len(ours))
}

func same(t *testing.T, who string, ours, theirs map[string]int) {
	t.Helper()
	var odd []string
	for id, n := range ours {
		if theirs[id] != n {
			odd = append(odd, id)
		}
	}
	for id := range theirs {
		if ours[id] == 0 {
			odd = append(odd, id)
		}
	}
	sort.Strings(odd)
	if len(odd) > 0 || len(ours) < 100 {
		t.Errorf("%s: %d and %d ways; these differ: %v", who, len(ours), len(theirs), odd[:min(10, len(odd))])
	}
}

func BenchmarkDelaware(b *testing.B) {
	path := libraryData(b, delaware)
	for b.Loop() {
		got := readExtract(path, Options{})
		if got.err != nil {
			b.Fatal(got.err)
		}
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		b.ReportMetric(float64(m.HeapSys)/1e6, "MB-heap")
	}
}
