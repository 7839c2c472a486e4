package gpkg

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"reflect"
	"testing"

	"github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/wkb"
	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/terrain"
)

func vertex(x float64) catalog.Vertex {
	return catalog.Vertex{LonDeg: x, LatDeg: x + 1, ElevationM: x + 2, StationM: x + 3}
}

func genLine(t *rapid.T) []catalog.Vertex {
	n := rapid.IntRange(2, 40).Draw(t, "vertices")
	line := make([]catalog.Vertex, n)
	for i := range line {
		line[i] = catalog.Vertex{
			LonDeg: rapid.Float64Range(-180, 180).Draw(t, "lon"), LatDeg: rapid.Float64Range(-90, 90).Draw(t, "lat"),
			ElevationM: rapid.Float64Range(-500, 9000).Draw(t, "z"), StationM: rapid.Float64Range(0, 1e7).Draw(t, "m"),
		}
	}
	return line
}

func TestLinesAreKeptToTheBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := genLine(t)
		b, _ := AppendLine(nil, line)
		flat := []float64{}
		for _, v := range line {
			flat = append(flat, v.LonDeg, v.LatDeg, v.ElevationM, v.StationM)
		}
		// Another writer of ISO well-known binary (go-geom), status: reference program.
		if body, err := wkb.Marshal(geom.NewLineStringFlat(geom.XYZM, flat), binary.LittleEndian); err != nil || !bytes.Equal(b[blobHeaderLen+envelopeLen:], body) {
			t.Fatalf("%x\nwant %x, %v", b, body, err)
		}
		got, err := ParseLine(b)
		if err != nil || !reflect.DeepEqual(got, line) {
			t.Fatalf("%v %v", got, err)
		}
		if bx, ok := EnvelopeOfBlob(b); !ok || bx != EnvelopeOf(line) {
			t.Fatalf("extent %v", bx)
		}
		for n := range b {
			if n < len(b)-1 && n%7 == 0 {
				if _, err := ParseLine(b[:n]); err == nil {
					t.Fatalf("%d of %d bytes were read as a line", n, len(b))
				}
			}
		}
	})
}

// Layout of the blob. Source: OGC 12-128r17 section 2.1.3 (published) and the ISO
// codes 3002 = LINESTRING ZM, 1 = POINT; the bytes are worked out by hand.
func TestBlobLayout(t *testing.T) {
	b := PointBlob(terrain.Point{LonDeg: 1, LatDeg: 2})
	const one, two = "000000000000f03f", "0000000000000040"
	want := "47500003" + "e6100000" + one + one + two + two + "0101000000" + one + two
	if got := hex.EncodeToString(b); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	l, _ := AppendLine(nil, []catalog.Vertex{vertex(1), vertex(1)})
	if code := binary.LittleEndian.Uint32(l[41:]); code != 3002 || l[40] != 1 || len(l) != 40+9+64 {
		t.Errorf("type %d, %d bytes", code, len(l))
	}
}

func FuzzGeometry(f *testing.F) {
	b, _ := AppendLine(nil, []catalog.Vertex{vertex(1), vertex(5)})
	f.Add(b)
	f.Add(PointBlob(terrain.Point{LonDeg: 1, LatDeg: 2}))
	f.Add([]byte("GP\x00\x11\xe6\x10\x00\x00"))
	f.Add(append(b[:45:45], 0xff, 0xff, 0xff, 0x7f))
	f.Fuzz(func(t *testing.T, b []byte) {
		line, err := ParseLine(b)
		if err == nil {
			again, _ := AppendLine(nil, line)
			if back, err := ParseLine(again); err != nil || len(back) != len(line) {
				t.Fatalf("%v", err)
			}
		}
		if _, err := ParsePoint(b); err == nil && len(b) < 29 {
			t.Fatal("a point from too few bytes")
		}
		EnvelopeOfBlob(b)
	})
}
