package vector

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"gradeline/routes"
	"gradeline/terrain"
)

// Any number that Go writes is read back to the bit, as strconv reads it.
func TestNumbersToTheBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-90, 90).Draw(t, "v")
		format := rapid.SampledFrom([]byte{'e', 'f', 'g'}).Draw(t, "format")
		digits := rapid.IntRange(-1, 18).Draw(t, "digits")
		text := strconv.FormatFloat(v, format, digits, 64)
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if len(text) > maxNumber || math.Abs(want) > 90 {
			return
		}
		var got orb.LineString
		_, err = Read(context.Background(), "-", Options{Stdin: strings.NewReader(`{"type":"LineString","coordinates":[[1,` + text + `],[ ` + text + " ,2]]}")},
			func(f routes.Feature) error { got = f.Line; return nil })
		if err != nil || math.Float64bits(got[0][1]) != math.Float64bits(want) || math.Float64bits(got[1][0]) != math.Float64bits(want) {
			t.Fatalf("%s: %v, want %v; %v", text, got, want, err)
		}
	})
}

// Digits that overflow 64 bits to a small number are read as strconv reads them.
func TestLongNumbers(t *testing.T) {
	for _, text := range []string{"0.18446744073709551617", "0.184467440737095516160", "0.00000000000000000000000000000123", "8.18446744073709551615999",
		"18446744073709551617e-19", "0.1e1", "1E-0", "89.99999999999999999999"} {
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		fs, _, err := readText(t, `{"type":"LineString","coordinates":[[1,`+text+`],[2,3]]}`)
		if err != nil || fs[0].Line[0][1] != want {
			t.Errorf("%s: %v, %v", text, fs, err)
		}
	}
}

// A text that lies across the ends of the window comes out whole.
func TestWindowEdges(t *testing.T) {
	for pad := bufferBytes - 220; pad < bufferBytes+20; pad += 7 {
		name := strings.Repeat("é", 300) + `\u00e9`
		text := `{"type":"Feature","pad":"` + strings.Repeat("x", pad) + `","properties":{"name":"` + name + `","n":12345.678,"structures":[{"kind":"tunnel","from_m":1,"to_m":2}]},"geometry":` + line + `}`
		fs, skipped, err := readText(t, text)
		if err != nil || len(skipped) != 0 || len(fs) != 1 || fs[0].Tags["name"] != strings.Repeat("é", 301) || fs[0].Tags["n"] != "12345.678" || len(fs[0].Structures) != 1 {
			t.Fatalf("pad %d: %v %v", pad, skipped, err)
		}
	}
}

// Memory does not grow with the file: 40 MB come through a window that stays
// within 1 MB.
func TestFlatMemory(t *testing.T) {
	one := []byte(feat(`{"name":"A"}`, line) + "\n")
	r := io.LimitReader(&repeated{one, 0}, int64(len(one)*400_000))
	rd := &reader{scanner: newScanner(context.Background(), "-", r)}
	rd.out = emitter{file: "-", fn: func(routes.Feature) error { return nil }}
	if err := rd.texts(); err != nil || rd.out.lines != 400_000 {
		t.Fatal(rd.out.lines, err)
	}
	if len(rd.buf) > 1<<20 || cap(rd.pts.pts) > 1000 {
		t.Errorf("window of %d bytes, %d points", len(rd.buf), cap(rd.pts.pts))
	}
}

type repeated struct {
	b []byte
	i int
}

func (r *repeated) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		k := copy(p[n:], r.b[r.i:])
		n += k
		r.i = (r.i + k) % len(r.b)
	}
	return n, nil
}

func FuzzReadGeoJSON(f *testing.F) {
	for _, s := range []string{coll(feat(`{"name":"A","structures":[{"kind":"bridge","from_m":1,"to_m":2}]}`, line)), line, feat(`null`, `null`),
		"\x1e" + line + "\n", `{"type":"MultiLineString","coordinates":[[],[[1,2,3],[4,5]]]}`, `{"type":"Feature","properties":{"a":"\ud83d\ude9b"}}`, sample,
		`{"type":"LineString","coordinates":[[-179e0,0.5E+1],[1e-400,null],[NaN,2]]}`, `{"type":"LineString","coordinates":[[-Infinity,1],[-I`, `{"crs":{"type":"name","properties":{"name":"EPSG:4326"}}}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		read := func(r io.Reader) (string, int) {
			var out strings.Builder
			n := 0
			skipped, err := Read(context.Background(), "-", Options{Stdin: r, MaxVertices: 10_000}, func(f routes.Feature) error {
				n++
				if len(f.Line) < 2 {
					t.Fatal("a line without a length")
				}
				for _, p := range f.Line {
					if !(terrain.Point{LonDeg: p[0], LatDeg: p[1]}).Valid() {
						t.Fatalf("bad vertex %v", p)
					}
				}
				for _, s := range f.Structures {
					if !(s.FromM >= 0 && s.ToM > s.FromM) || math.IsInf(s.ToM, 0) {
						t.Fatalf("bad structure %+v", s)
					}
				}
				fmt.Fprint(&out, f)
				return nil
			})
			fmt.Fprint(&out, skipped, err)
			if err == nil && n == 0 {
				t.Fatal("no line and no fault")
			}
			return out.String(), n
		}
		a, _ := read(bytes.NewReader(b))
		if b, _ := read(iotest.OneByteReader(bytes.NewReader(b))); a != b {
			t.Fatalf("read at once: %s\nbyte by byte: %s", a, b)
		}
	})
}
