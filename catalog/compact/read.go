package compact

import (
	"encoding/binary"
	"encoding/json"
	"reflect"
)

// Schema is a layout's text, ready to read bytes that were written with it.
type Schema struct {
	root *node
	lists
}

// lists are lists of texts that were read before, by their JSON.
type lists map[string]reflect.Value

// ParseSchema reads the text of a layout.
func ParseSchema(text string) (*Schema, error) {
	root, err := parseLayout(text)
	return &Schema{root: root, lists: lists{}}, err
}

// decoder reads one set of structs.
type decoder struct {
	r     Reader
	pool  []float64
	texts []string
	lists lists
}

// Read reads bytes that Writer.Append wrote with the schema's layout and returns a slice of structs
// of l's type. A field that the bytes lack is zero; a field that the type lacks is skipped. texts
// are the forms from place 1 on. Other bytes are ErrDamaged. Not for concurrent use.
func (s *Schema) Read(b []byte, l *Layout, texts []string) (reflect.Value, error) {
	d := decoder{r: Reader{b: b}, texts: texts, lists: s.lists}
	none := reflect.Value{}
	n, ok := d.uvarint()
	most, ok2 := d.uvarint()
	if !ok || !ok2 || n > mostItems || most > uint64(len(d.r.b)/8) || n > uint64(len(b))*8*blockLen {
		return none, ErrDamaged
	}
	d.pool = make([]float64, most)
	d.r.plain(d.pool)
	out := reflect.MakeSlice(reflect.SliceOf(l.root.typ), int(n), int(n))
	values := make([]reflect.Value, n)
	for i := range values {
		values[i] = out.Index(i)
	}
	d.read(s.root, l.root, values, int(n))
	if d.r.err != nil || len(d.r.b) > 0 {
		return none, ErrDamaged
	}
	return out, nil
}

func (d *decoder) uvarint() (uint64, bool) {
	v, n := binary.Uvarint(d.r.b)
	if n <= 0 {
		return 0, false
	}
	d.r.b = d.r.b[n:]
	return v, true
}

// read reads the columns of n values; to is nil, and so is values, where the type has no such field.
func (d *decoder) read(from, to *node, values []reflect.Value, n int) {
	if d.r.err != nil {
		return
	}
	if to != nil && to.kind != from.kind && !(from.kind == integer && to.kind == figure) {
		d.r.fail()
		return
	}
	switch from.kind {
	case figure:
		column := make([]float64, n)
		d.r.Floats(column, d.pool)
		for i, v := range values {
			v.SetFloat(column[i])
		}
	case structure:
		d.readStructs(from, to, values, n)
	case list, orNone:
		d.readMany(from, to, values, n)
	case sentence:
		d.readSentences(values, n)
	default:
		column := make([]int64, n)
		d.r.Ints(column)
		if to == nil || d.r.err != nil {
			return
		}
		for i, v := range values {
			d.setWhole(from, to, v, column[i])
		}
	}
}

func (d *decoder) readStructs(from, to *node, values []reflect.Value, n int) {
	for k, f := range from.fields {
		at := -1
		if to != nil {
			at = to.field(from.names[k])
		}
		if at < 0 {
			d.read(f, nil, nil, n)
			continue
		}
		column := make([]reflect.Value, n)
		for i, v := range values {
			column[i] = v.Field(to.index[at])
		}
		d.read(f, to.fields[at], column, n)
	}
}

func (d *decoder) setWhole(from, to *node, v reflect.Value, x int64) {
	switch from.kind {
	case integer:
		if to.kind == figure {
			v.SetFloat(float64(x))
			return
		}
		if v.OverflowInt(x) {
			d.r.fail()
			return
		}
		v.SetInt(x)
	case truth:
		v.SetBool(x == 1)
		if x&^1 != 0 {
			d.r.fail()
		}
	case asJSON:
		d.setJSON(to, v, x)
	}
}

func (d *decoder) setJSON(to *node, v reflect.Value, place int64) {
	if place == 0 {
		return
	}
	text, ok := d.text(place)
	if !ok {
		return
	}
	if !isOfTextsAlone(to.typ) {
		if json.Unmarshal([]byte(text), v.Addr().Interface()) != nil {
			d.r.fail()
		}
		return
	}
	known, isKnown := d.lists[text]
	if !isKnown || known.Type() != to.typ {
		into := reflect.New(to.typ)
		if json.Unmarshal([]byte(text), into.Interface()) != nil {
			d.r.fail()
			return
		}
		known = into.Elem()
		if len(d.lists) >= mostListed {
			clear(d.lists)
		}
		d.lists[text] = known
	}
	same := reflect.MakeSlice(to.typ, known.Len(), known.Len())
	reflect.Copy(same, known)
	v.Set(same)
}

// text is the form at a place that is not 0.
func (d *decoder) text(place int64) (string, bool) {
	if place < 1 || place > int64(len(d.texts)) {
		d.r.fail()
		return "", false
	}
	return d.texts[place-1], true
}

func (d *decoder) readMany(from, to *node, values []reflect.Value, n int) {
	counts := make([]int64, n)
	d.r.Ints(counts)
	total := int64(0)
	for i, c := range counts {
		if c < 0 || c > mostItems || from.kind == orNone && c > 1 {
			d.r.fail()
			return
		}
		if from.kind == list && c > 0 {
			counts[i] = c - 1
		}
		total += counts[i]
		if from.kind == list && c == 0 {
			counts[i] = -1
		}
	}
	if d.r.err != nil || total > min(mostItems, int64(len(d.r.b))*8*blockLen) {
		d.r.fail()
		return
	}
	if to == nil {
		d.read(from.of, nil, nil, int(total))
		return
	}
	within := make([]reflect.Value, 0, total)
	for i, v := range values {
		c := int(counts[i])
		switch {
		case from.kind == orNone && c == 1:
			v.Set(reflect.New(to.typ.Elem()))
			within = append(within, v.Elem())
		case from.kind == list && c >= 0:
			v.Set(reflect.MakeSlice(to.typ, c, c))
			for k := range c {
				within = append(within, v.Index(k))
			}
		}
	}
	d.read(from.of, to.of, within, int(total))
}

func (d *decoder) readSentences(values []reflect.Value, n int) {
	places := make([]int64, n)
	d.r.Ints(places)
	count := 0
	for _, p := range places {
		if p == 0 {
			continue
		}
		form, ok := d.text(p)
		if !ok {
			return
		}
		count += numbersIn(form)
	}
	if d.r.err != nil || count > MostValues {
		d.r.fail()
		return
	}
	numbers := make([]int64, count)
	d.r.Ints(numbers)
	if values == nil || d.r.err != nil {
		return
	}
	for i, p := range places {
		if p == 0 {
			continue
		}
		s, rest, ok := join(d.texts[p-1], numbers)
		if !ok {
			d.r.fail()
			return
		}
		values[i].SetString(s)
		numbers = rest
	}
}
