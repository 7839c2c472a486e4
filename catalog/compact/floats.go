package compact

import (
	"encoding/binary"
	"math"
	"slices"
	"sync"
)

// The form of a column of figures is its first byte: whole multiples of a power of ten (0 to
// mostDecimals: the number of decimals), places in a pool, or plain values.
const (
	mostDecimals = 9
	inPool       = 10
	plainBits    = 11
)

// Figures are values in any unit; the caller knows which.
type Figures []float64

var powersOfTen = [mostDecimals + 1]float64{1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// mostExact limits the multiples: below 2^53 every integer is a float64.
const mostExact = 1 << 53

// decimalsOf fills ints with the column's multiples of a power of ten that restores each figure
// exactly. The correctly rounded quotient of two integers is the same where both are multiplied by
// ten, so a column that fits few decimals also fits more.
func decimalsOf(ints []int64, column []float64) (decimals int, fit bool) {
	from := 0 // where the figures begin that were multiplied by this power
	for i, v := range column {
		n, fit := multipleOf(v, powersOfTen[decimals])
		for ; !fit; n, fit = multipleOf(v, powersOfTen[decimals]) {
			if decimals++; decimals > mostDecimals {
				return 0, false
			}
			from = i
		}
		ints[i] = n
	}
	for i, v := range column[:from] {
		if ints[i], fit = multipleOf(v, powersOfTen[decimals]); !fit {
			return 0, false
		}
	}
	return decimals, true
}

// multipleOf is v as a multiple of one part; fit is false where that is not exactly v.
func multipleOf(v, parts float64) (n int64, fit bool) {
	x := v * parts
	if !(math.Abs(x) < mostExact) {
		return 0, false
	}
	n = int64(x + math.Copysign(0.5, x)) // -0 becomes 0, and does not fit
	return n, math.Float64bits(float64(n)/parts) == math.Float64bits(v)
}

// Pool keeps figures that are not short decimals once each, for several columns.
type Pool struct {
	list  []float64
	cells []poolCell // found by a hash of the bits, each in the first free one behind
	round uint32     // of reset
}

type poolCell struct {
	bits  uint64
	place uint32
	round uint32 // 0, or an earlier round: free
}

func (p *Pool) placeOf(v float64) int64 {
	if 2*len(p.list) >= len(p.cells) {
		p.grow()
	}
	c := p.cellOf(math.Float64bits(v))
	if c.round != p.round {
		*c = poolCell{math.Float64bits(v), uint32(len(p.list)), p.round}
		p.list = append(p.list, v)
	}
	return int64(c.place)
}

// cellOf is the cell of a figure, or a free one where it has none.
func (p *Pool) cellOf(bits uint64) *poolCell {
	last := uint64(len(p.cells) - 1)
	for i := bits * 0x9e3779b97f4a7c15 >> 32 & last; ; i = (i + 1) & last {
		if c := &p.cells[i]; c.round != p.round || c.bits == bits {
			return c
		}
	}
}

// grow makes room for twice as many figures.
func (p *Pool) grow() {
	const fewest = 512
	p.cells = make([]poolCell, max(fewest, 2*len(p.cells)))
	p.round = 1
	for i, v := range p.list {
		*p.cellOf(math.Float64bits(v)) = poolCell{math.Float64bits(v), uint32(i), p.round}
	}
}

func (p *Pool) reset() {
	p.list = p.list[:0]
	if p.round++; p.round == 0 {
		p.cells = nil
	}
}

// AppendFloats appends a column; pool may be nil. Its length is not written.
func AppendFloats(b []byte, column Figures, pool *Pool) []byte {
	if len(column) == 0 {
		return b
	}
	var kept [64]int64
	ints := kept[:]
	if len(column) > len(ints) {
		memory := intsKept.Get().(*[]int64)
		defer intsKept.Put(memory)
		*memory = slices.Grow((*memory)[:0], len(column))
		ints = (*memory)[:len(column)]
	}
	ints = ints[:len(column)]
	if decimals, fit := decimalsOf(ints, column); fit {
		return AppendInts(append(b, byte(decimals)), ints)
	}
	if pool != nil {
		for i, v := range column {
			ints[i] = pool.placeOf(v)
		}
		return AppendInts(append(b, inPool), ints)
	}
	return appendPlain(append(b, plainBits), column)
}

// intsKept are lists for columns that are longer than most.
var intsKept = sync.Pool{New: func() any { return new([]int64) }}

func appendPlain(b []byte, column []float64) []byte {
	b = slices.Grow(b, 8*len(column))
	for _, v := range column {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

// Floats fills a column of that length; pool is the pool that was read before.
func (r *Reader) Floats(column, pool Figures) {
	if len(column) == 0 || r.err != nil {
		clear(column)
		return
	}
	mode := r.readByte()
	if mode == plainBits {
		r.plain(column)
		return
	}
	var kept [64]int64
	ints := kept[:]
	if len(column) > len(ints) {
		if len(column) > MostValues {
			r.fail()
			clear(column)
			return
		}
		memory := intsKept.Get().(*[]int64)
		defer intsKept.Put(memory)
		*memory = slices.Grow((*memory)[:0], len(column))
		ints = (*memory)[:len(column)]
	}
	ints = ints[:len(column)]
	r.Ints(ints)
	if mode <= mostDecimals {
		parts := powersOfTen[mode]
		for i, n := range ints {
			column[i] = float64(n) / parts
		}
		return
	}
	for i, n := range ints {
		if mode != inPool || n < 0 || n >= int64(len(pool)) {
			r.fail()
			clear(column)
			return
		}
		column[i] = pool[n]
	}
}

func (r *Reader) plain(column []float64) {
	if len(r.b)/8 < len(column) {
		r.fail()
		clear(column)
		return
	}
	for i := range column {
		column[i] = math.Float64frombits(binary.LittleEndian.Uint64(r.b[8*i:]))
	}
	r.b = r.b[8*len(column):]
}
