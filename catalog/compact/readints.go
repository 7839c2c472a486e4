package compact

import (
	"encoding/binary"
	"math/bits"
)

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
		n := min(blockLen, len(column)-start)
		if as.k == allZero {
			clear(column[start : start+n])
		} else {
			in.readBlock(column[start:start+n], as.k)
		}
		if start <= slopeOver {
			for i := start; i < start+n; i++ {
				column[i] += predict(as.kind, column, i)
			}
		} else {
			addPredictions(as.kind, column, start, n)
		}
	}
	if in.isDamaged {
		r.fail()
		clear(column)
		return
	}
	r.b = r.b[in.bytesUsed():]
}

// addPredictions makes n values behind the start of their differences.
func addPredictions(kind int, column []int64, start, n int) {
	one := column[start-1]
	switch kind {
	case asBefore:
		for i, d := range column[start : start+n] {
			one += d
			column[start+i] = one
		}
	case asSlope:
		step := one - column[start-2]
		for i, d := range column[start : start+n] {
			step += d
			one += step
			column[start+i] = one
		}
	case asMeanSlope:
		far := column[start-1-slopeOver:][:n]
		values := column[start:][:n]
		for i, d := range values {
			one += d + (one-far[i]+slopeOver/2)>>3
			values[i] = one
		}
	}
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

// readBlock reads the differences of a block in Rice's code.
func (r *bitReader) readBlock(out []int64, k uint) {
	const lowest = 63 // a shift by at most 63 needs no test for more
	mask := uint64(1)<<(k&lowest) - 1
	b, next, acc, have := r.b, r.next, r.acc, r.have // in registers: this is the inner loop
	for i := range out {
		if have < mostAtOnce && next+8 <= len(b) {
			acc |= binary.LittleEndian.Uint64(b[next:]) << (have & lowest)
			n := (63 - have) / 8
			next += int(n)
			have += 8 * n
			acc &= 1<<(have&lowest) - 1
		}
		q := uint(bits.TrailingZeros64(^acc))
		if n := q + 1 + k; q < escape && n <= have {
			u := uint64(q)<<(k&lowest) | acc>>((q+1)&lowest)&mask
			acc >>= n & lowest
			have -= n
			out[i] = int64(u>>1) ^ -int64(u&1)
			continue
		}
		r.next, r.acc, r.have = next, acc, have
		u := r.readRice(k)
		next, acc, have = r.next, r.acc, r.have
		out[i] = int64(u>>1) ^ -int64(u&1)
	}
	r.next, r.acc, r.have = next, acc, have
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
