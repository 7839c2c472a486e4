package compact

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// plainInts is Reader.Ints value by value, as the code is defined: one bit for the same form as the
// block before, else prediction and k, then each difference.
func plainInts(b []byte, column []int64) (rest []byte, ok bool) {
	in := bitReader{b: b}
	as := block{kind: -1}
	for i := range column {
		if i%blockLen == 0 && in.read(1) == 0 {
			as = block{int(in.read(kindBits)), uint(in.read(widthBits))}
		}
		if in.isDamaged || as.kind < 0 || as.k > mostRiceBits && as.k != allZero {
			return nil, false
		}
		column[i] = predict(as.kind, column, i)
		if as.k != allZero {
			u := in.readRice(as.k)
			column[i] += int64(u>>1) ^ -int64(u&1)
		}
	}
	return b[in.bytesUsed():], !in.isDamaged
}

// Reading by blocks gives what reading value by value gives, of any bytes: of columns with large and
// small steps, cut off, and with bytes changed.
func TestReadingByBlocks(t *testing.T) {
	good := 0
	rapid.Check(t, func(t *rapid.T) {
		most := rapid.SampledFrom([]int64{1, 3, 100, 1 << 20, 1 << 44, 1<<62 - 1}).Draw(t, "largest step")
		column := rapid.SliceOfN(rapid.Int64Range(-most, most), 1, 150).Draw(t, "values")
		if rapid.Bool().Draw(t, "summed") {
			for i := 1; i < len(column); i++ {
				column[i] += column[i-1]
			}
		}
		b := AppendInts(nil, column)
		b = append(b, rapid.SliceOfN(rapid.Byte(), 0, 12).Draw(t, "behind")...)
		for range rapid.IntRange(0, 2).Draw(t, "damage") {
			b[rapid.IntRange(0, len(b)-1).Draw(t, "at")] ^= rapid.Byte().Draw(t, "bits")
		}
		b = b[:rapid.IntRange(0, len(b)).Draw(t, "length")]
		want, got := make([]int64, len(column)), make([]int64, len(column))
		rest, ok := plainInts(b, want)
		r := NewReader(b)
		r.Ints(got)
		if len(column) > len(b)*8*blockLen {
			ok = false
		}
		if ok != (r.Err() == nil) {
			t.Fatalf("value by value it can be read: %v; by blocks: %v", ok, r.Err())
		}
		if ok && (!slices.Equal(got, want) || len(r.Rest()) != len(rest)) {
			t.Fatalf("got %v with %d bytes left, want %v with %d", got, len(r.Rest()), want, len(rest))
		}
		if ok {
			good++
		}
	})
	if good < 20 {
		t.Errorf("only %d columns could be read", good)
	}
}
