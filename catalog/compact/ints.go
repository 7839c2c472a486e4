package compact

import (
	"encoding/binary"
	"math/bits"
)

// A column of integers is written in blocks of blockLen. Each block uses the prediction with the
// smallest differences (see predict). The differences are written zigzag in Rice's code (R. F.
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
	var d differences
	before := block{kind: -1}
	for start := 0; start < len(column); start += blockLen {
		n := min(blockLen, len(column)-start)
		as := block{kind: d.fill(column, start, n)}
		best := d.of[as.kind][:n]
		as.k = riceBits(best, d.sum[as.kind])
		w.appendBlock(best, as, as == before)
		before = as
	}
	return w.flush()
}

// differences of a block from each prediction, zigzag, and their sums.
type differences struct {
	of  [predictions][blockLen]uint64
	sum [predictions]uint64
}

// fill fills them for n values and returns the prediction with the smallest sum.
func (d *differences) fill(column []int64, start, n int) (best int) {
	d.sum = [predictions]uint64{}
	if start <= slopeOver {
		for kind := range predictions {
			for i := range n {
				d.set(kind, i, column[start+i]-predict(kind, column, start+i))
			}
		}
	} else {
		// The same as predict, without its branches: nearly all values are handled here.
		for i := range n {
			at := column[start+i-1-slopeOver : start+i+1]
			v, one, two, far := at[slopeOver+1], at[slopeOver], at[slopeOver-1], at[0]
			d.set(asZero, i, v)
			d.set(asBefore, i, v-one)
			d.set(asSlope, i, v-2*one+two)
			d.set(asMeanSlope, i, v-one-(one-far+slopeOver/2)>>3)
		}
	}
	for kind := range predictions {
		if d.sum[kind] < d.sum[best] {
			best = kind
		}
	}
	return best
}

func (d *differences) set(kind, i int, x int64) {
	u := uint64(x<<1) ^ uint64(x>>63)
	d.of[kind][i] = u
	d.sum[kind] += min(u, 1<<(mostRiceBits+4))
}

// block is the form of a block.
type block struct {
	kind int
	k    uint
}

// riceBits chooses k so that the block takes few bits.
func riceBits(d []uint64, sum uint64) uint {
	if sum == 0 {
		return allZero
	}
	high := uint(min(bits.Len64(sum/uint64(len(d))), mostRiceBits))
	k, least := uint(0), -1
	for try := high - min(high, 2); try <= high; try++ {
		n := len(d) * int(try)
		for _, u := range d {
			q := u >> try
			if q >= escape {
				q = escape + widthBits + uint64(bits.Len64(u)) - uint64(try)
			}
			n += int(q)
		}
		if least < 0 || n < least {
			k, least = try, n
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
	k := as.k
	for _, u := range d {
		q, rest := u>>k, u&(1<<k-1)
		switch {
		case q < escape && uint(q)+1+k <= 32:
			w.append(1<<q-1|rest<<(q+1), uint(q)+1+k)
		case q < escape:
			w.append(1<<q-1, uint(q)+1)
			w.appendLong(rest, k)
		default:
			n := uint(bits.Len64(u))
			w.append(1<<escape-1, escape)
			w.append(uint64(n-1), widthBits)
			w.appendLong(u, n)
		}
	}
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
