package compact

import (
	"encoding/binary"
	"math/bits"
)

// A column of integers is written in blocks of blockLen. Each block uses one prediction (see
// predict), here that with the smallest differences in a sample over chosenFor blocks. The differences are written zigzag in Rice's code (R. F.
// Rice, JPL Publication 79-22, 1979: a quotient in unary and a remainder of k bits). One bit before
// the block is set where prediction and k are those of the previous block; otherwise both follow.
const (
	blockLen     = 16
	kindBits     = 2  // of the prediction
	widthBits    = 6  // of k, and of the width of an escaped value
	allZero      = 63 // as k: every difference of the block is 0
	mostRiceBits = 40
	escape       = 20 // ones in unary: width and value follow in plain bits
	slopeOver    = 8
	chosenFor    = 4 // blocks: a choice for each block takes longer and saves 1 % of the bytes
)

// The kinds of prediction.
const (
	asZero      = iota
	asBefore    // the value before
	asSlope     // the last step once more
	asMeanSlope // the mean of the last slopeOver steps, which is less affected by rounding
	predictions
)

// predict returns the prediction of a kind for column[i].
func predict(kind int, column []int64, i int) int64 {
	switch {
	case kind == asZero || i == 0:
		return 0
	case kind == asBefore || i == 1:
		return column[i-1]
	case kind == asSlope || i <= slopeOver:
		return 2*column[i-1] - column[i-2]
	}
	return column[i-1] + (column[i-1]-column[i-1-slopeOver]+slopeOver/2)>>3
}

// AppendInts appends a column. Its length is not written.
func AppendInts(b []byte, column []int64) []byte {
	w := bitWriter{b: b}
	before := block{kind: -1}
	var d [blockLen]uint64
	kind := asZero
	for start := 0; start < len(column); start += blockLen {
		n := min(blockLen, len(column)-start)
		var sum uint64
		if start <= slopeOver {
			kind = bestAtStart(column, start, n)
			sum = fillAtStart(&d, kind, column, start, n)
		} else {
			if start/blockLen%chosenFor == 1 {
				kind = best(column, start, min(chosenFor*blockLen, len(column)-start))
			}
			sum = fill(&d, kind, column, start, n)
		}
		as := block{kind, riceBits(n, sum)}
		w.appendBlock(d[:n], as, as == before)
		before = as
	}
	return w.flush()
}

func zigzag(x int64) uint64 { return uint64(x<<1) ^ uint64(x>>63) }

// mostCounted is the largest difference that counts in full for the choice of a prediction.
const mostCounted = 1 << (mostRiceBits + 4)

// size is the absolute difference as it counts for the choice.
func size(x int64) uint64 {
	m := x >> 63
	return min(uint64(x^m-m), mostCounted)
}

// bestAtStart chooses the prediction with the smallest differences for n values near the start.
func bestAtStart(column []int64, start, n int) (kind int) {
	var sums [predictions]uint64
	for i := start; i < start+n; i++ {
		v := column[i]
		sums[asZero] += size(v)
		if i == 0 {
			sums[asBefore], sums[asSlope], sums[asMeanSlope] = size(v), size(v), size(v)
			continue
		}
		one := column[i-1]
		step := size(v - one)
		sums[asBefore] += step
		if i == 1 {
			sums[asSlope] += step
			sums[asMeanSlope] += step
			continue
		}
		slope := size(v - 2*one + column[i-2])
		sums[asSlope] += slope
		if i > slopeOver {
			slope = size(v - one - (one-column[i-1-slopeOver]+slopeOver/2)>>3)
		}
		sums[asMeanSlope] += slope
	}
	return smallest(sums)
}

// best is bestAtStart for values behind the start, of which it looks at one in chosenFor: nearly all
// choices are made here.
func best(column []int64, start, n int) (kind int) {
	var zero, before, slope, mean uint64
	at := column[start-1-slopeOver : start+n]
	for i := 0; i+slopeOver+1 < len(at); i += chosenFor {
		v, one, two, far := at[i+slopeOver+1], at[i+slopeOver], at[i+slopeOver-1], at[i]
		step := v - one
		zero += size(v)
		before += size(step)
		slope += size(step - one + two)
		mean += size(step - (one-far+slopeOver/2)>>3)
	}
	return smallest([predictions]uint64{zero, before, slope, mean})
}

func smallest(sums [predictions]uint64) (kind int) {
	for k := range sums {
		if sums[k] < sums[kind] {
			kind = k
		}
	}
	return kind
}

// fillAtStart is fill for n values near the start.
func fillAtStart(d *[blockLen]uint64, kind int, column []int64, start, n int) (sum uint64) {
	for i := range n {
		d[i] = zigzag(column[start+i] - predict(kind, column, start+i))
		sum += min(d[i], mostCounted)
	}
	return sum
}

// fill fills in the differences of n values from a prediction, zigzag, and returns their sum.
func fill(d *[blockLen]uint64, kind int, column []int64, start, n int) (sum uint64) {
	values := column[start : start+n]
	one, two, far := column[start-1:][:n], column[start-2:][:n], column[start-1-slopeOver:][:n]
	out := d[:n]
	switch kind {
	case asZero:
		for i, v := range values {
			out[i] = zigzag(v)
		}
	case asBefore:
		for i, v := range values {
			out[i] = zigzag(v - one[i])
		}
	case asSlope:
		for i, v := range values {
			out[i] = zigzag(v - 2*one[i] + two[i])
		}
	case asMeanSlope:
		for i, v := range values {
			out[i] = zigzag(v - one[i] - (one[i]-far[i]+slopeOver/2)>>3)
		}
	}
	for _, u := range out {
		sum += min(u, mostCounted)
	}
	return sum
}

// block is the form of a block.
type block struct {
	kind int
	k    uint
}

// riceBits chooses k so that a block of n values takes few bits; sum is that of its differences. The
// quotients together are at most the quotient of the sum, and less by under n.
func riceBits(n int, sum uint64) uint {
	if sum == 0 {
		return allZero
	}
	high := uint(min(bits.Len64(sum/uint64(n)), mostRiceBits))
	k, least := high, uint64(n)*uint64(high)+sum>>high
	for try := high; try > 0 && try+2 > high; {
		try--
		if bits := uint64(n)*uint64(try) + sum>>try - uint64(n)/4; bits < least {
			k, least = try, bits
		}
	}
	return k
}

type bitWriter struct {
	b    []byte
	acc  uint64
	used uint // bits of acc, below 32 between calls
}

// append writes the lowest n bits of v, at most 32; v has no others.
func (w *bitWriter) append(v uint64, n uint) {
	w.acc |= v << w.used
	if w.used += n; w.used >= 32 {
		w.b = binary.LittleEndian.AppendUint32(w.b, uint32(w.acc))
		w.acc >>= 32
		w.used -= 32
	}
}

func (w *bitWriter) flush() []byte {
	for ; w.used > 0; w.used -= min(8, w.used) {
		w.b = append(w.b, byte(w.acc))
		w.acc >>= 8
	}
	return w.b
}

func (w *bitWriter) appendBlock(d []uint64, as block, isSame bool) {
	if isSame {
		w.append(1, 1)
	} else {
		w.append(uint64(as.kind)<<1|uint64(as.k)<<(1+kindBits), 1+kindBits+widthBits)
	}
	if as.k == allZero {
		return
	}
	const lowest = 63 // a shift by at most 63 needs no test for more
	k := as.k
	mask := uint64(1)<<(k&lowest) - 1
	acc, used := w.acc, w.used // in registers: this is the inner loop
	for _, u := range d {
		q, rest := u>>(k&lowest), u&mask
		if n := uint(q) + 1 + k; q < escape && n <= 32 {
			acc |= (uint64(1)<<(q&lowest) - 1 | rest<<((q+1)&lowest)) << (used & lowest)
			if used += n; used >= 32 {
				w.b = binary.LittleEndian.AppendUint32(w.b, uint32(acc))
				acc >>= 32
				used -= 32
			}
			continue
		}
		w.acc, w.used = acc, used
		w.appendFar(u, k)
		acc, used = w.acc, w.used
	}
	w.acc, w.used = acc, used
}

// appendFar writes a difference that takes more than 32 bits, or the escape.
func (w *bitWriter) appendFar(u uint64, k uint) {
	q, rest := u>>k, u&(1<<k-1)
	if q < escape {
		w.append(1<<q-1, uint(q)+1)
		w.appendLong(rest, k)
		return
	}
	n := uint(bits.Len64(u))
	w.append(1<<escape-1, escape)
	w.append(uint64(n-1), widthBits)
	w.appendLong(u, n)
}

func (w *bitWriter) appendLong(v uint64, n uint) {
	w.append(v&(1<<32-1), min(n, 32))
	if n > 32 {
		w.append(v>>32, n-32)
	}
}

// Ints fills a column of that length.
func (r *Reader) Ints(column []int64) {
	if r.err != nil {
		clear(column)
		return
	}
	if len(column) > MostValues || len(column) > len(r.b)*8*blockLen {
		r.fail()
		clear(column)
		return
	}
	in := bitReader{b: r.b}
	as := block{kind: -1}
	for start := 0; start < len(column); start += blockLen {
		if in.read(1) == 0 {
			as = block{int(in.read(kindBits)), uint(in.read(widthBits))}
		}
		if in.isDamaged || as.kind < 0 || as.k > mostRiceBits && as.k != allZero {
			r.fail()
			clear(column)
			return
		}
		for i := start; i < min(start+blockLen, len(column)); i++ {
			x := predict(as.kind, column, i)
			if as.k != allZero {
				u := in.readRice(as.k)
				x += int64(u>>1) ^ -int64(u&1)
			}
			column[i] = x
		}
	}
	if in.isDamaged {
		r.fail()
		clear(column)
		return
	}
	r.b = r.b[in.bytesUsed():]
}

type bitReader struct {
	b         []byte
	next      int // in b
	acc       uint64
	have      uint // bits of acc
	isDamaged bool
}

// bytesUsed is the number of bytes begun: complete ones that are unread in acc do not count.
func (r *bitReader) bytesUsed() int { return r.next - int(r.have/8) }

// fill loads up to 56 bits.
func (r *bitReader) fill() {
	if r.next+8 <= len(r.b) {
		r.acc |= binary.LittleEndian.Uint64(r.b[r.next:]) << r.have
		n := (63 - r.have) / 8
		r.next += int(n)
		r.have += 8 * n
		r.acc &= 1<<r.have - 1
		return
	}
	for r.have <= 56 && r.next < len(r.b) {
		r.acc |= uint64(r.b[r.next]) << r.have
		r.next++
		r.have += 8
	}
}

// read reads n bits, at most 56.
func (r *bitReader) read(n uint) uint64 {
	if r.have < n {
		if r.fill(); r.have < n {
			r.isDamaged, r.acc, r.have = true, 0, 0
			return 0
		}
	}
	v := r.acc & (1<<n - 1)
	r.acc >>= n
	r.have -= n
	return v
}

func (r *bitReader) readRice(k uint) uint64 {
	if r.have < escape+1 {
		r.fill()
	}
	q := uint(bits.TrailingZeros64(^r.acc))
	if q < escape {
		r.read(q + 1)
		return uint64(q)<<k | r.read(k)
	}
	r.read(escape)
	n := uint(r.read(widthBits)) + 1
	v := r.read(min(n, 32))
	if n > 32 {
		v |= r.read(n-32) << 32
	}
	return v
}
