package plansheet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"gradeline/catalog"
)

// dxfFeature is an entity of a drawing as GDAL's reader reports it.
type dxfFeature struct {
	Properties struct{ Layer, Text, SubClasses string }
	Geometry   struct {
		Type        string
		Coordinates json.RawMessage
	}
}

// dxfRead is what GDAL's DXF reader, which is not of the library that writes, finds in a file
// (Debian's gdal-bin).
func dxfRead(t *testing.T, b []byte) []dxfFeature {
	t.Helper()
	path := filepath.Join(t.TempDir(), "plan.dxf")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("ogr2ogr", "-f", "GeoJSON", "/vsistdout/", path, "entities")
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	if err != nil || complaints.Len() > 0 {
		t.Fatalf("ogr2ogr: %v %s", err, &complaints)
	}
	var all struct{ Features []dxfFeature }
	if err := json.Unmarshal(out, &all); err != nil {
		t.Fatal(err)
	}
	return all.Features
}

// unescaped reads the letters that are written by their number, as CAD programs do and GDAL does
// not.
func unescaped(s string) string {
	return regexp.MustCompile(`\\U\+[0-9A-F]{4}`).ReplaceAllStringFunc(s, func(m string) string {
		n, err := strconv.ParseUint(m[3:], 16, 16)
		if err != nil {
			return m
		}
		return string(rune(n))
	})
}

// GDAL reads every text and every mark of the drawing, on the layer of its action.
func TestDXFAsReadByGDAL(t *testing.T) {
	const name = `Höhe "%%c" \U+0041 <Dale> 100 % ± end`
	for _, u := range []catalog.Units{catalog.US, catalog.Metric} {
		s := set(t, "us-2023", name, u)
		drawn, err := s.draw()
		if err != nil {
			t.Fatal(err)
		}
		labels := 0
		for _, p := range drawn.pages {
			for _, it := range p.items {
				if _, isLabel := it.(label); isLabel {
					labels++
				}
			}
		}
		texts, layers, found := 0, map[string]int{}, map[string]bool{}
		for _, f := range dxfRead(t, written(t, s, DXF)) {
			layers[f.Properties.Layer]++
			if strings.Contains(f.Properties.SubClasses, "AcDbText") {
				texts++
				found[unescaped(f.Properties.Text)] = true
			}
		}
		if texts != labels {
			t.Errorf("%s: GDAL reads %d texts, the sheets have %d", u, texts, labels)
		}
		for _, want := range []string{name, "Quantities", "install", "crest", "foot", "N", "INVENTED DEMONSTRATION: no such road exists. Nothing is to be built by this."} {
			if !found[want] {
				t.Errorf("%s: no text %q", u, want)
			}
		}
		for _, post := range s.Schedule.Posts {
			if l := layerPosts + strings.ToUpper(post.Action); layers[l] < 2 {
				t.Errorf("%s: post %d: layer %s has %d entities", u, post.Number, l, layers[l])
			}
		}
		for _, l := range []string{layerFrame, layerText, layerRoad, layerStations, layerLeaders, layerProfile} {
			if layers[l] == 0 {
				t.Errorf("%s: nothing on layer %s", u, l)
			}
		}
	}
}

// A unit of the drawing is a metre or a foot of the ground: the road's line on the first plan is
// as long as its stations say, but for the polyline's chords.
func TestDXFIsInUnitsOfTheGround(t *testing.T) {
	for u, unitM := range map[catalog.Units]float64{catalog.Metric: 1, catalog.US: catalog.FootM} {
		s := set(t, "us-2023", "", u)
		d := newDrafter(&s)
		want := 0.0
		for _, st := range d.stretches {
			want += (st.toM - st.fromM) / unitM
		}
		longest := 0.0
		for _, f := range dxfRead(t, written(t, s, DXF)) {
			var pts [][]float64
			if f.Properties.Layer != layerRoad || json.Unmarshal(f.Geometry.Coordinates, &pts) != nil {
				continue
			}
			l := 0.0
			for i := 1; i < len(pts); i++ {
				l += math.Hypot(pts[i][0]-pts[i-1][0], pts[i][1]-pts[i-1][1])
			}
			longest += l / 2 // the two edges of the road
		}
		if math.Abs(longest/want-1) > 0.01 {
			t.Errorf("%s: edges of %.0f on average for %.0f of road", u, longest, want)
		}
	}
}

// The same set gives the same bytes, from several goroutines too, though the library shares tables
// between drawings.
func TestDXFIsTheSameTwice(t *testing.T) {
	first := written(t, set(t, "uk-2018", "", catalog.Metric), DXF)
	if !bytes.HasPrefix(first, []byte("0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n")) || !bytes.HasSuffix(first, []byte("0\nEOF\n")) {
		t.Errorf("begins with %q", first[:60])
	}
	for _, b := range first {
		if b != '\n' && (b < ' ' || b > '~') {
			t.Fatalf("byte %#x", b)
		}
	}
	sets := []Set{set(t, "uk-2018", "", catalog.Metric), set(t, "uk-2018", "", catalog.Metric), set(t, "uk-2018", "", catalog.Metric)}
	var wait sync.WaitGroup
	for _, s := range sets {
		wait.Go(func() {
			var b bytes.Buffer
			if err := Write(&b, s, DXF); err != nil || !bytes.Equal(b.Bytes(), first) {
				t.Errorf("another drawing of the same set differs: %v", err)
			}
		})
	}
	wait.Wait()
}

func TestDashes(t *testing.T) {
	got := dashes(stroke{pts: []point{{0, 0}, {5, 0}, {5, 1}}, dashMM: 2})
	if len(got) != 2 || fmt.Sprint(got[0]) != "[{0 0} {2 0}]" || fmt.Sprint(got[1]) != "[{4 0} {5 0} {5 1}]" {
		t.Error(got)
	}
}

// Drawing into a writer that fails says so.
func TestDXFToAFullDisk(t *testing.T) {
	if err := Write(failing{}, set(t, "us-2023", "", catalog.US), DXF); err == nil {
		t.Error("no error")
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, io.ErrShortWrite }
