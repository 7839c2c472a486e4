package compact

import (
	"encoding/binary"
	"math/bits"
	"slices"
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
	w := bitWriter{b: slices.Grow(b, longestBlock)}
	before := block{kind: -1}
	var d [blockLen]uint64
	kind := asZero
	for start := 0; start < len(column); start += blockLen {
		n := min(blockLen, len(column)-start)
		var sum uint64
		if start == 0 && areZero(column[:n]) {
			kind, d = asZero, [blockLen]uint64{}
		} else if start <= slopeOver {
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

func areZero(column []int64) bool {
	all := int64(0)
	for _, v := range column {
		all |= v
	}
	return all == 0
}

func zigzag(x int64) uint64 { return uint64(x<<1) ^ uint64(x>>63) }

// mostCounted is the largest difference that counts in full for the choice of a prediction.
const mostCounted = 1 << (mostRiceBits + 4)

// size is the absolute difference as it counts for the choice.
func size(x int64) uint64 { return min(absolute(x), mostCounted) }

func absolute(x int64) uint64 {
	m := x >> 63
	return uint64(x ^ m - m)
}

// bestAtStart chooses the prediction with the smallest differences for n values near the start.
func bestAtStart(column []int64, start, n int) (kind int) {
	var zero, before, slope, far uint64 // far: what the mean slope has in place of the last one
	values := column[:start+n]
	for i := start; i < len(values); i++ {
		v := values[i]
		zero += size(v)
		switch {
		case i == 0:
			before, slope = size(v), size(v)
			continue
		case i == 1:
			before, slope = before+size(v-values[0]), slope+size(v-values[0])
			continue
		}
		one := values[i-1]
		before += size(v - one)
		last := size(v - 2*one + values[i-2])
		slope += last
		if i > slopeOver {
			far += size(v-one-(one-values[i-1-slopeOver]+slopeOver/2)>>3) - last
		}
	}
	return smallest([predictions]uint64{zero, before, slope, slope + far})
}

// best is bestAtStart for values behind the start, of which it looks at one in chosenFor: nearly all
// choices are made here.
func best(column []int64, start, n int) (kind int) {
	var zero, before, slope, mean, all uint64
	at := column[start-1-slopeOver : start+n]
	for len(at) > slopeOver+1 {
		v, one, two, far := at[slopeOver+1], at[slopeOver], at[slopeOver-1], at[0]
		step := v - one
		a, b, c, d := absolute(v), absolute(step), absolute(step-one+two), absolute(step-(one-far+slopeOver/2)>>3)
		all |= a | b | c | d
		zero, before, slope, mean = zero+a, before+b, slope+c, mean+d
		at = at[min(chosenFor, len(at)):]
	}
	if all < mostCounted {
		return smallest([predictions]uint64{zero, before, slope, mean})
	}
	return bestOfLarge(column, start, n)
}

// bestOfLarge is best where a difference does not count in full.
func bestOfLarge(column []int64, start, n int) (kind int) {
	var sums [predictions]uint64
	for i := start; i < start+n; i += chosenFor {
		for k := range sums {
			sums[k] += size(column[i] - predict(k, column, i))
		}
	}
	return smallest(sums)
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
	all := uint64(0)
	switch kind {
	case asZero:
		for i, v := range values {
			u := zigzag(v)
			out[i] = u
			sum, all = sum+u, all|u
		}
	case asBefore:
		for i, v := range values {
			u := zigzag(v - one[i])
			out[i] = u
			sum, all = sum+u, all|u
		}
	case asSlope:
		for i, v := range values {
			u := zigzag(v - 2*one[i] + two[i])
			out[i] = u
			sum, all = sum+u, all|u
		}
	case asMeanSlope:
		for i, v := range values {
			u := zigzag(v - one[i] - (one[i]-far[i]+slopeOver/2)>>3)
			out[i] = u
			sum, all = sum+u, all|u
		}
	}
	if all < mostCounted {
		return sum
	}
	sum = 0
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
	mean := sum / blockLen // a constant: the division by n takes longer than all below
	if n != blockLen {
		mean = sum / uint64(n)
	}
	high := uint(min(bits.Len64(mean), mostRiceBits))
	k, least := high, uint64(n)*uint64(high)+sum>>high
	for try := high; try > 0 && try+2 > high; {
		try--
		if bits := uint64(n)*uint64(try) + sum>>try - uint64(n)/4; bits < least {
			k, least = try, bits
		}
	}
	return k
}

// bitWriter writes bits from the lowest up. Between calls it keeps less than a byte.
type bitWriter struct {
	b    []byte
	acc  uint64
	used uint // bits of acc, below 8 between calls
}

// mostAtOnce is how many bits fit into acc at any time.
const mostAtOnce = 56

// longestBlock is room for a block without an escape, and for the eight bytes that are stored at once.
const longestBlock = (1+kindBits+widthBits+blockLen*mostAtOnce)/8 + 16

// append writes the lowest n bits of v, at most mostAtOnce; v has no others.
func (w *bitWriter) append(v uint64, n uint) {
	w.acc |= v << w.used
	w.used += n
	w.b = binary.LittleEndian.AppendUint64(w.b, w.acc)
	w.b = w.b[:len(w.b)-8+int(w.used/8)]
	w.acc >>= w.used &^ 7
	w.used &= 7
}

func (w *bitWriter) flush() []byte {
	if w.used > 0 {
		w.b = append(w.b, byte(w.acc))
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
	w.b = slices.Grow(w.b, longestBlock)
	acc, used, end := w.acc, w.used, len(w.b) // in registers: this is the inner loop
	room := w.b[:cap(w.b)]
	// Eight bytes are stored each time, of which those that are complete count: a test whether there
	// are any is predicted wrongly too often. q ones, a zero and the rest are (2 rest + 1) 2^q - 1.
	for len(d) > 1 { // two at a time: each waits for the bits of the one before
		u, v := d[0], d[1]
		q, p := u>>(k&lowest), v>>(k&lowest)
		n, m := uint(q)+1+k, uint(p)+1+k
		if max(q, p) >= escape || n+m > mostAtOnce {
			break
		}
		first, second := ((u&mask)<<1|1)<<(q&lowest)-1, ((v&mask)<<1|1)<<(p&lowest)-1
		acc |= (first | second<<(n&lowest)) << (used & lowest)
		used += n + m
		binary.LittleEndian.PutUint64(room[end:], acc)
		end += int(used / 8)
		acc >>= used & 0x38
		used &= 7
		d = d[2:]
	}
	for _, u := range d {
		q, rest := u>>(k&lowest), u&mask
		n := uint(q) + 1 + k
		if q >= escape || n > mostAtOnce {
			w.b, w.acc, w.used = room[:end], acc, used
			w.appendFar(u, k)
			w.b = slices.Grow(w.b, longestBlock)
			acc, used, end, room = w.acc, w.used, len(w.b), w.b[:cap(w.b)]
			continue
		}
		acc |= ((rest<<1|1)<<(q&lowest) - 1) << (used & lowest)
		used += n
		binary.LittleEndian.PutUint64(room[end:], acc)
		end += int(used / 8)
		acc >>= used & 0x38
		used &= 7
	}
	w.b, w.acc, w.used = room[:end], acc, used
}

// appendFar writes a difference that takes more than mostAtOnce bits, or the escape.
func (w *bitWriter) appendFar(u uint64, k uint) {
	q, rest := u>>k, u&(1<<k-1)
	if q < escape {
		w.append(1<<q-1, uint(q)+1)
		w.append(rest, k)
		return
	}
	n := uint(bits.Len64(u))
	w.append(1<<escape-1, escape)
	w.append(uint64(n-1), widthBits)
	w.append(u&(1<<32-1), min(n, 32))
	if n > 32 {
		w.append(u>>32, n-32)
	}
}
