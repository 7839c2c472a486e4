package compact

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"reflect"
)

// Writer writes slices of structs. Not for concurrent use.
type Writer struct {
	layout *Layout
	texts  Texts
	pool   Pool
	body   []byte
	err    error
	known  map[*node][]listed
	floats []float64
	ints   []int64
}

// NewWriter writes structs of a layout's type.
func NewWriter(l *Layout) *Writer { return &Writer{layout: l, known: map[*node][]listed{}} }

// listed is a list of texts that was written before, with its JSON.
type listed struct {
	value reflect.Value // a copy
	json  string
}

// mostItems is the largest total number of structs or texts in one field of all structs.
const mostItems = 1 << 18

// mostListed is the number of lists kept for each such field: one for each weight class in use.
const mostListed = 32

// Append appends the number of structs and their fields to b. texts are the forms to which the
// bytes refer, by place from 1 on; they are valid until the next call.
func (w *Writer) Append(b []byte, structs reflect.Value) (out []byte, texts []string, err error) {
	w.texts.reset()
	w.pool.reset()
	w.body, w.err = w.body[:0], nil
	n := structs.Len()
	values := make([]reflect.Value, n)
	for i := range values {
		values[i] = structs.Index(i)
	}
	w.write(w.layout.root, values)
	if w.err != nil {
		return b, nil, w.err
	}
	b = binary.AppendUvarint(b, uint64(n))
	b = binary.AppendUvarint(b, uint64(len(w.pool.list)))
	return append(appendPlain(b, w.pool.list), w.body...), w.texts.List(), nil
}

// write writes a column for a value, or several for a compound one.
func (w *Writer) write(n *node, values []reflect.Value) {
	switch n.kind {
	case figure:
		w.floats = w.floats[:0]
		for _, v := range values {
			w.floats = append(w.floats, v.Float())
		}
		w.body = AppendFloats(w.body, w.floats, &w.pool)
	case structure:
		column := make([]reflect.Value, len(values))
		for k, f := range n.fields {
			for i, v := range values {
				column[i] = v.Field(n.index[k])
			}
			w.write(f, column)
		}
	case list, orNone:
		w.writeMany(n, values)
	case sentence:
		w.writeSentences(values)
	default:
		w.ints = w.ints[:0]
		for _, v := range values {
			w.ints = append(w.ints, w.wholeOf(n, v))
		}
		w.body = AppendInts(w.body, w.ints)
	}
}

// wholeOf is a value as one integer.
func (w *Writer) wholeOf(n *node, v reflect.Value) int64 {
	switch n.kind {
	case integer:
		return v.Int()
	case truth:
		if v.Bool() {
			return 1
		}
		return 0
	}
	return w.jsonOf(n, v)
}

// jsonOf is the place of a value's JSON; 0 for a nil list.
func (w *Writer) jsonOf(n *node, v reflect.Value) int64 {
	ofTexts := isOfTextsAlone(n.typ)
	if ofTexts {
		if v.IsNil() {
			return 0
		}
		for _, k := range w.known[n] {
			if isSameList(k.value, v) {
				return w.texts.placeOf(k.json)
			}
		}
	}
	b, err := json.Marshal(v.Interface())
	if err != nil {
		w.err = fmt.Errorf("compact: %w", err)
		return 0
	}
	if ofTexts {
		if len(w.known[n]) >= mostListed {
			w.known[n] = nil
		}
		same := reflect.MakeSlice(n.typ, v.Len(), v.Len())
		reflect.Copy(same, v)
		w.known[n] = append(w.known[n], listed{same, string(b)})
	}
	return w.texts.placeOf(string(b))
}

// isSameList compares lists of structs of texts.
func isSameList(a, b reflect.Value) bool {
	if a.Len() != b.Len() {
		return false
	}
	for i := range a.Len() {
		x, y := a.Index(i), b.Index(i)
		for k := range x.NumField() {
			if x.Field(k).String() != y.Field(k).String() {
				return false
			}
		}
	}
	return true
}

// writeMany writes the length of each list (plus one, 0 for nil), or whether there is a value, then
// all values.
func (w *Writer) writeMany(n *node, values []reflect.Value) {
	counts := w.ints[:0]
	total := 0
	for _, v := range values {
		c := 0
		switch {
		case v.IsNil():
		case n.kind == list:
			c = v.Len() + 1
			total += v.Len()
		default:
			c = 1
			total++
		}
		counts = append(counts, int64(c))
	}
	w.ints = counts
	w.body = AppendInts(w.body, counts)
	if total > mostItems {
		w.err = fmt.Errorf("compact: %d values in a column", total)
		return
	}
	within := make([]reflect.Value, 0, total)
	for _, v := range values {
		switch {
		case v.IsNil():
		case n.kind == orNone:
			within = append(within, v.Elem())
		default:
			for i := range v.Len() {
				within = append(within, v.Index(i))
			}
		}
	}
	w.write(n.of, within)
}

// writeSentences writes the places of the forms, then all numbers.
func (w *Writer) writeSentences(values []reflect.Value) {
	places := make([]int64, len(values))
	numbers := w.ints[:0]
	for i, v := range values {
		places[i], numbers = w.texts.split(v.String(), numbers)
	}
	w.ints = numbers
	w.body = AppendInts(AppendInts(w.body, places), numbers)
}
