package gpkg

import (
	"encoding/binary"
	"reflect"
	"strings"
	"sync"
	"unicode/utf8"
	"unsafe"
)

// shape lists where the memory of a type holds figures and texts, so that millions of values are
// checked without reflection.
type shape struct {
	size     uintptr
	figures  []uintptr // offsets of float64
	texts    []uintptr // of strings
	lists    []innerShape
	pointers []innerShape
	others   bool // a kind of value that only reflection can look at
}

// innerShape is the shape of what a slice or pointer at an offset refers to.
type innerShape struct {
	offset uintptr
	of     *shape
}

var shapes sync.Map // *shape by reflect.Type

func shapeOf(t reflect.Type) *shape {
	if s, known := shapes.Load(t); known {
		return s.(*shape)
	}
	s := &shape{size: t.Size()}
	s.add(t, 0, 0)
	shapes.Store(t, s)
	return s
}

const deepestShape = 16 // structs within structs

// add adds the values of a type at an offset.
func (s *shape) add(t reflect.Type, offset uintptr, depth int) {
	switch k := t.Kind(); {
	case t == timeType, k >= reflect.Bool && k <= reflect.Uintptr:
	case depth > deepestShape:
		s.others = true
	case k == reflect.Float64:
		s.figures = append(s.figures, offset)
	case k == reflect.String:
		s.texts = append(s.texts, offset)
	case k == reflect.Struct:
		for i := range t.NumField() {
			s.add(t.Field(i).Type, offset+t.Field(i).Offset, depth+1)
		}
	case k == reflect.Slice, k == reflect.Pointer:
		of := &shape{size: t.Elem().Size()}
		of.add(t.Elem(), 0, depth+1)
		switch {
		case of.others:
			s.others = true
		case len(of.figures)+len(of.texts)+len(of.lists)+len(of.pointers) == 0:
		case k == reflect.Slice:
			s.lists = append(s.lists, innerShape{offset, of})
		default:
			s.pointers = append(s.pointers, innerShape{offset, of})
		}
	default:
		s.others = true
	}
}

// sliceHeader is a slice in memory.
type sliceHeader struct {
	data            unsafe.Pointer
	count, capacity int
}

// isSound reports whether all values at p are sound; false too where it cannot tell.
func (s *shape) isSound(p unsafe.Pointer) bool {
	if s.others {
		return false
	}
	for _, at := range s.figures {
		if !isFinite(*(*uint64)(unsafe.Add(p, at))) {
			return false
		}
	}
	for _, at := range s.texts {
		if !IsCleanText(*(*string)(unsafe.Add(p, at))) {
			return false
		}
	}
	for _, in := range s.pointers {
		if to := *(*unsafe.Pointer)(unsafe.Add(p, in.offset)); to != nil && !in.of.isSound(to) {
			return false
		}
	}
	for _, in := range s.lists {
		if list := (*sliceHeader)(unsafe.Add(p, in.offset)); !in.of.areSound(list.data, list.count) {
			return false
		}
	}
	return true
}

// areSound is isSound for the values of a list.
func (s *shape) areSound(data unsafe.Pointer, count int) bool {
	if uintptr(8*len(s.figures)) == s.size && count > 0 { // nothing but figures: lines and heat
		return areFinite(unsafe.Slice((*uint64)(data), uintptr(count)*s.size/8))
	}
	for i := range uintptr(count) {
		if !s.isSound(unsafe.Add(data, i*s.size)) {
			return false
		}
	}
	return true
}

// areFinite is isFinite for many figures, four at a time without a branch: one more than an exponent of
// ones reaches the sign's bit.
func areFinite(figures []uint64) bool {
	const exponent, one, sign = 0x7ff << 52, 1 << 52, 1 << 63
	all := uint64(0)
	for ; len(figures) >= 4; figures = figures[4:] {
		all |= (figures[0]&exponent + one) | (figures[1]&exponent + one) | (figures[2]&exponent + one) | (figures[3]&exponent + one)
	}
	for _, bits := range figures {
		all |= bits&exponent + one
	}
	return all&sign == 0
}

// isFinite reports whether the bits of a float64 are a number: an exponent of ones is an infinity or
// no number (IEEE 754 binary64).
func isFinite(bits uint64) bool {
	const exponent = 0x7ff << 52
	return bits&exponent != exponent
}

// IsCleanText reports whether a text is UTF-8 without NUL.
func IsCleanText(s string) bool {
	const high, low = 0x8080808080808080, 0x0101010101010101
	b := bytesIn(s)
	for ; len(b) >= 32; b = b[32:] { // 32 ASCII characters at once
		w, x, y, z := binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint64(b[8:]), binary.LittleEndian.Uint64(b[16:]), binary.LittleEndian.Uint64(b[24:])
		if (w|(w-low)|x|(x-low)|y|(y-low)|z|(z-low))&high != 0 { // one above 127, or a NUL
			return utf8.ValidString(s) && strings.IndexByte(s, 0) < 0
		}
	}
	for ; len(b) >= 8; b = b[8:] {
		w := binary.LittleEndian.Uint64(b)
		if (w|(w-low))&high != 0 { // one above 127, or a NUL
			return utf8.ValidString(s) && strings.IndexByte(s, 0) < 0
		}
	}
	for _, c := range b {
		if c == 0 || c > 127 {
			return utf8.ValidString(s) && strings.IndexByte(s, 0) < 0
		}
	}
	return true
}
