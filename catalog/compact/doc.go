// Package compact writes columns of figures, and slices of structs, in few bytes and reads them
// back exactly, including nil slices.
//
// A slice of structs is written field by field, all values of a field together. The bytes come with
// the names of their fields (see Layout.Text), so that a field that is added later reads as zero
// from older bytes, and an unknown one is skipped. Sentences are stored separately, once each,
// without their numbers (see Texts). Damaged bytes never cause a panic and never make more than
// MostValues values. There is no check sum; the caller adds one.
package compact

import (
	"errors"
)

// ErrDamaged reports bytes that this package did not write.
var ErrDamaged = errors.New("packed figures are damaged")

// MostValues is the largest number of values of a column.
const MostValues = 1 << 22

// Reader reads columns in the order in which they were appended. After the first byte
// that does not fit, Err stays set and every value is 0.
type Reader struct {
	b   []byte
	err error
}

// NewReader reads from b.
func NewReader(b []byte) *Reader { return &Reader{b: b} }

// Err is ErrDamaged after the first fault.
func (r *Reader) Err() error { return r.err }

// Rest returns the unread bytes.
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
