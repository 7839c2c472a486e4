package spread

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"io"
	"math"
)

// A column of figures is kept as differences of its bit patterns, the bytes of one significance
// together, so that a general compressor finds what is alike. Every bit comes back.

var errDamaged = errors.New("its bytes are damaged")

// mostFigures limits a column: a route has at most 4 million vertices, and fewer stations.
const mostFigures = 1 << 24

const deepestDifference = 3

// appendColumn appends a column with its length; a nil column comes back as nil.
func appendColumn(b []byte, column []float64) []byte {
	if column == nil {
		return binary.AppendUvarint(b, 0)
	}
	b = binary.AppendUvarint(b, uint64(len(column))+1)
	bits := make([]uint64, len(column))
	for i, v := range column {
		bits[i] = fold(math.Float64bits(v))
	}
	best, depth := bits, 0
	least := costOf(bits)
	for d := 1; d <= deepestDifference; d++ {
		bits = differences(bits)
		if c := costOf(bits); c < least {
			best, depth, least = bits, d, c
		}
	}
	b = append(b, byte(depth))
	for plane := range 8 {
		for _, v := range best {
			b = append(b, byte(v>>(8*plane)))
		}
	}
	return b
}

// differences are those of each value and the one before it, folded so that small ones of both
// signs have leading zeros.
func differences(bits []uint64) []uint64 {
	out, before := make([]uint64, len(bits)), uint64(0)
	for i, v := range bits {
		whole := unfold(v)
		out[i], before = fold(whole-before), whole
	}
	return out
}

func fold(v uint64) uint64   { return v<<1 ^ uint64(int64(v)>>63) }
func unfold(v uint64) uint64 { return v>>1 ^ -(v & 1) }

// costOf estimates the bytes of a column after compression.
func costOf(bits []uint64) (bytes int) {
	for _, v := range bits {
		for ; v != 0; v >>= 8 {
			bytes++
		}
	}
	return bytes
}

// columnReader reads what was appended; after a fault isDamaged stays set.
type columnReader struct {
	b         []byte
	isDamaged bool
}

func (r *columnReader) fail() { r.b, r.isDamaged = nil, true }

// count reads a length plus one of elements of size bytes each.
func (r *columnReader) count(size int) (n int, isNil bool) {
	v, k := binary.Uvarint(r.b)
	if k <= 0 || v > mostFigures || v > 0 && (v-1)*uint64(size) > uint64(len(r.b)-k) {
		r.fail()
		return 0, true
	}
	r.b = r.b[k:]
	return int(v) - 1, v == 0
}

// bytes reads bytes with their length.
func (r *columnReader) bytes() []byte {
	n, isNil := r.count(1)
	if isNil {
		return nil
	}
	out := r.b[:n:n]
	r.b = r.b[n:]
	return out
}

// column reads a column of figures.
func (r *columnReader) column() []float64 {
	n, isNil := r.count(8)
	if isNil {
		return nil
	}
	if len(r.b) < 1+8*n || r.b[0] > deepestDifference {
		r.fail()
		return nil
	}
	depth, planes := r.b[0], r.b[1:]
	bits := make([]uint64, n)
	for plane := range 8 {
		for i := range bits {
			bits[i] |= uint64(planes[plane*n+i]) << (8 * plane)
		}
	}
	r.b = planes[8*n:]
	for range depth {
		sum := uint64(0)
		for i, v := range bits {
			sum += unfold(v)
			bits[i] = fold(sum)
		}
	}
	out := make([]float64, n)
	for i, v := range bits {
		out[i] = math.Float64frombits(unfold(v))
	}
	return out
}

// squeezed compresses packed columns.
func squeezed(b []byte) ([]byte, error) {
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.DefaultCompression)
	if err != nil {
		return nil, err
	}
	if _, err = w.Write(b); err == nil {
		err = w.Close()
	}
	return out.Bytes(), err
}

// mostUnpackedB limits what a record may unpack to.
const mostUnpackedB = 1 << 30

func unsqueezed(b []byte) ([]byte, error) {
	out, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(b)), mostUnpackedB+1))
	if err != nil || len(out) > mostUnpackedB {
		return nil, errDamaged
	}
	return out, nil
}
