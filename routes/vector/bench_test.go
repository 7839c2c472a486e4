package vector

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"

	"gradeline/routes"
)

// collection writes about size bytes of lines with the given number of vertices.
func collection(size, vertices int) []byte {
	rng := rand.New(rand.NewPCG(1, uint64(vertices)))
	var b bytes.Buffer
	b.WriteString(`{"type":"FeatureCollection","features":[` + "\n")
	for n := 0; b.Len() < size; n++ {
		if n > 0 {
			b.WriteString(",\n")
		}
		fmt.Fprintf(&b, `{"type":"Feature","properties":{"id":%d,"name":"Road %d","highway":"secondary","oneway":false,"maxspeed":"55 mph"},"geometry":{"type":"LineString","coordinates":[`, n, n)
		x, y := -105+rng.Float64(), 39+rng.Float64()
		for v := range vertices {
			if v > 0 {
				b.WriteByte(',')
			}
			x, y = x+1e-3*rng.Float64(), y+1e-3*rng.Float64()
			fmt.Fprintf(&b, "[%.7f,%.7f]", x, y)
		}
		b.WriteString("]}}")
	}
	b.WriteString("]}")
	return b.Bytes()
}

func benchmarkRead(b *testing.B, vertices int) {
	data := collection(20<<20, vertices)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		_, err := Read(context.Background(), "-", Options{Stdin: onlyReader{bytes.NewReader(data)}}, func(f routes.Feature) error {
			n += len(f.Line)
			return nil
		})
		if err != nil || n%vertices != 0 {
			b.Fatal(n, err)
		}
	}
}

type onlyReader struct{ io.Reader }

func BenchmarkReadShortLines(b *testing.B) { benchmarkRead(b, 27) }
func BenchmarkReadLongLines(b *testing.B)  { benchmarkRead(b, 2000) }
