// Package compact writes columns of figures, and slices of structs, in few bytes and
// reads them back exactly: bit for bit, nil slices as nil, texts letter for letter.
//
// A slice of structs is written field by field, all values of a field together. What is
// written carries the names of its fields (see Layout.Text), so that a field that is
// added later reads as zero from older bytes, and one that is unknown is passed over.
// Sentences are kept outside, once each, with their numbers taken out (see Texts).
//
// Bytes from outside never panic and never make more than MostValues values; they carry
// no check sum: that is the caller's.
package compact

import (
	"errors"
)

// ErrDamaged says that bytes are not what this package writes.
var ErrDamaged = errors.New("packed figures are damaged")

// MostValues is how many values one column may hold.
const MostValues = 1 << 22

// Reader reads columns in the order in which they were appended. After the first byte
// that does not fit, Err stays set and every value is 0.
type Reader struct {
	b   []byte
	err error
}

// NewReader reads from b.
func NewReader(b []byte) *Reader { return &Reader{b: b} }

// Err is ErrDamaged once something did not fit.
func (r *Reader) Err() error { return r.err }

// Rest is what has not been read.
func (r *Reader) Rest() []byte { return r.b }

func (r *Reader) fail() { r.err, r.b = ErrDamaged, nil }

// readByte reads one byte; 0 after a fault.
func (r *Reader) readByte() byte {
	if len(r.b) == 0 {
		r.fail()
		return 0
	}
	c := r.b[0]
	r.b = r.b[1:]
	return c
}
