package compact

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"unsafe"
)

// Writer writes slices of structs. Not for concurrent use. It reads the structs through pointers and
// the offsets of their fields: through reflection that takes most of a survey's writing.
type Writer struct {
	layout *Layout
	texts  Texts
	pool   Pool
	body   []byte
	err    error
	known  map[*node]*columnMemory
	floats []float64
	ints   []int64
	counts []int64
	kept   [2 * deepest][]unsafe.Pointer // for the values of lists, by depth
}

// NewWriter writes structs of a layout's type.
func NewWriter(l *Layout) *Writer { return &Writer{layout: l, known: map[*node]*columnMemory{}} }

// columnMemory is what is known of the texts of a field from what was written before.
type columnMemory struct {
	recent recentForms
	listed []listed
}

func (w *Writer) memoryOf(n *node) *columnMemory {
	m := w.known[n]
	if m == nil {
		m = &columnMemory{}
		w.known[n] = m
	}
	return m
}

// listed is a list of texts that was written before, with its JSON.
type listed struct {
	texts []string // of all its structs
	json  *form
}

// mostItems is the largest total number of structs or texts in one field of all structs.
const mostItems = 1 << 18

// mostListed is the number of lists kept for each such field: one for each weight class in use.
const mostListed = 32

// Append appends the number of structs and their fields to b. texts are the forms to which the
// bytes refer, by place from 1 on; they are valid until the next call.
func (w *Writer) Append(b []byte, structs reflect.Value) (out []byte, texts []string, err error) {
	if w.texts.reset(); w.texts.known == nil {
		clear(w.known) // they refer to forms that are forgotten
	}
	w.pool.reset()
	w.body, w.err, w.kept[0] = w.body[:0], nil, w.kept[0][:0]
	if structs.Type() != reflect.SliceOf(w.layout.root.typ) {
		return b, nil, fmt.Errorf("compact: %v is no list of %v", structs.Type(), w.layout.root.typ)
	}
	n := structs.Len()
	w.write(w.layout.root, w.elements(0, w.layout.root, structs.UnsafePointer(), n), 0, 1)
	clear(w.kept[0])
	if w.err != nil {
		return b, nil, w.err
	}
	b = binary.AppendUvarint(b, uint64(n))
	b = binary.AppendUvarint(b, uint64(len(w.pool.list)))
	return append(appendPlain(b, w.pool.list), w.body...), w.texts.List(), nil
}

// elements appends pointers to the n values of a list at data to those kept for a depth.
func (w *Writer) elements(depth int, of *node, data unsafe.Pointer, n int) []unsafe.Pointer {
	size := of.typ.Size()
	for i := range uintptr(n) {
		w.kept[depth] = append(w.kept[depth], unsafe.Add(data, i*size))
	}
	return w.kept[depth]
}

// write writes a column for a value, or several for a compound one. The values are at an offset from
// the pointers.
func (w *Writer) write(n *node, at []unsafe.Pointer, offset uintptr, depth int) {
	switch n.kind {
	case figure:
		w.floats = w.floats[:0]
		for _, p := range at {
			w.floats = append(w.floats, *(*float64)(unsafe.Add(p, offset)))
		}
		w.body = AppendFloats(w.body, w.floats, &w.pool)
	case structure:
		for k, f := range n.fields {
			w.write(f, at, offset+n.offset[k], depth)
		}
	case list, orNone:
		w.writeMany(n, at, offset, depth)
	case sentence:
		w.writeSentences(n, at, offset)
	default:
		w.ints = w.ints[:0]
		for _, p := range at {
			w.ints = append(w.ints, w.wholeOf(n, unsafe.Add(p, offset)))
		}
		w.body = AppendInts(w.body, w.ints)
	}
}

// wholeOf is a value as one integer.
func (w *Writer) wholeOf(n *node, p unsafe.Pointer) int64 {
	switch n.kind {
	case integer:
		if n.typ.Kind() == reflect.Int {
			return int64(*(*int)(p))
		}
		return reflect.NewAt(n.typ, p).Elem().Int()
	case truth:
		if *(*bool)(p) {
			return 1
		}
		return 0
	}
	return w.jsonOf(n, p)
}

// jsonOf is the place of a value's JSON; 0 for a nil list.
func (w *Writer) jsonOf(n *node, p unsafe.Pointer) int64 {
	var texts []string
	if n.ofTexts > 0 {
		header := (*sliceHeader)(p)
		if header.data == nil {
			return 0
		}
		texts = unsafe.Slice((*string)(header.data), header.count*n.ofTexts)
		for _, k := range w.memoryOf(n).listed {
			if slices.Equal(k.texts, texts) {
				return w.texts.use(k.json)
			}
		}
	}
	b, err := json.Marshal(reflect.NewAt(n.typ, p).Elem().Interface())
	if err != nil {
		w.err = fmt.Errorf("compact: %w", err)
		return 0
	}
	place := w.texts.placeOf(string(b))
	if n.ofTexts > 0 {
		m := w.memoryOf(n)
		if len(m.listed) >= mostListed {
			m.listed = nil
		}
		m.listed = append(m.listed, listed{slices.Clone(texts), w.texts.known[string(b)]})
	}
	return place
}

// sliceHeader is a slice in memory.
type sliceHeader struct {
	data            unsafe.Pointer
	count, capacity int
}

// writeMany writes the length of each list (plus one, 0 for nil), or whether there is a value, then
// all values.
func (w *Writer) writeMany(n *node, at []unsafe.Pointer, offset uintptr, depth int) {
	w.counts = w.counts[:0]
	total := 0
	for _, p := range at {
		c := 0
		switch p = unsafe.Add(p, offset); {
		case *(*unsafe.Pointer)(p) == nil: // of a pointer, and of a slice the data
		case n.kind == list:
			c = (*sliceHeader)(p).count + 1
			total += c - 1
		default:
			c = 1
			total++
		}
		w.counts = append(w.counts, int64(c))
	}
	w.body = AppendInts(w.body, w.counts)
	if total > mostItems {
		w.err = fmt.Errorf("compact: %d values in a column", total)
		return
	}
	w.kept[depth] = w.kept[depth][:0]
	for _, p := range at {
		p = unsafe.Add(p, offset)
		data, count := *(*unsafe.Pointer)(p), 1
		if n.kind == list {
			count = (*sliceHeader)(p).count
		}
		if data != nil {
			w.elements(depth, n.of, data, count)
		}
	}
	w.write(n.of, w.kept[depth], 0, depth+1)
	clear(w.kept[depth])
}

// writeSentences writes the places of the forms, then all numbers.
func (w *Writer) writeSentences(n *node, at []unsafe.Pointer, offset uintptr) {
	if len(at) == 0 {
		return
	}
	recent := &w.memoryOf(n).recent
	w.counts, w.ints = w.counts[:0], w.ints[:0]
	for _, p := range at {
		var place int64
		place, w.ints = w.texts.split(*(*string)(unsafe.Add(p, offset)), w.ints, recent)
		w.counts = append(w.counts, place)
	}
	w.body = AppendInts(AppendInts(w.body, w.counts), w.ints)
}
