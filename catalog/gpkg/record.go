package gpkg

import (
	"bytes"
	"database/sql/driver"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unsafe"

	"gradeline/terrain"
)

// Record maps a struct to columns named as its JSON keys. Fields without a column go into one JSON
// text, so that a field added later is stored too.
type Record struct {
	Names    []string
	index    []int          // fields with a column
	offset   []uintptr      // in the struct's memory
	kind     []reflect.Kind // see boundKind
	more     []int          // the others
	keys     []string       // their JSON keys, with quotes and colon
	moreType reflect.Type
}

// NewRecord maps the fields of a struct to the columns of one of our tables, but for the
// columns in except.
func NewRecord(t reflect.Type, tableName string, except ...string) Record {
	columns := map[string]bool{}
	for _, c := range tableNamed(tableName).columns {
		columns[c.name] = !slices.Contains(except, c.name)
	}
	var r Record
	var rest []reflect.StructField
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if columns[name] {
			r.Names, r.index = append(r.Names, name), append(r.index, i)
			r.offset, r.kind = append(r.offset, f.Offset), append(r.kind, boundKind(f.Type))
		} else {
			rest, r.more, r.keys = append(rest, f), append(r.more, i), append(r.keys, strconv.Quote(name)+":")
		}
	}
	r.moreType = reflect.StructOf(rest)
	return r
}

// MoreNames are the JSON keys of the fields without a column, but for those in except.
func (r *Record) MoreNames(except ...string) []string {
	var out []string
	for _, k := range r.keys {
		if name := k[1 : len(k)-2]; !slices.Contains(except, name) {
			out = append(out, name)
		}
	}
	return out
}

// Scratch is memory in which the JSON of one row after another is put together.
type Scratch struct {
	buf bytes.Buffer
	enc *json.Encoder // into buf
}

// NewScratch makes empty memory.
func NewScratch() *Scratch {
	s := &Scratch{}
	s.enc = json.NewEncoder(&s.buf)
	return s
}

// BindColumns adds the column values of v, which must be addressable.
func (r *Record) BindColumns(v reflect.Value, out Args) (Args, error) {
	row := v.Addr().UnsafePointer()
	for k, i := range r.index {
		p := unsafe.Add(row, r.offset[k])
		var x any
		switch r.kind[k] {
		case reflect.Float64:
			x = *(*float64)(p)
		case reflect.Int:
			x = int64(*(*int)(p))
		case reflect.Bool:
			x = *(*bool)(p)
		case reflect.String:
			x = *(*string)(p)
		case reflect.Pointer:
			if to := *(**float64)(p); to != nil {
				x = *to
			}
		default:
			text, err := textOf(v.Field(i).Addr().Interface())
			if err != nil {
				return nil, err
			}
			x = text
		}
		out = append(out, driver.NamedValue{Ordinal: len(out) + 1, Value: x})
	}
	return out, nil
}

// boundKind is how BindColumns reads a field; Invalid for one that is written as text.
func boundKind(t reflect.Type) reflect.Kind {
	switch k := t.Kind(); {
	case t == reflect.TypeFor[*float64](), k == reflect.Float64, k == reflect.Int, k == reflect.Bool, k == reflect.String:
		return k
	}
	return reflect.Invalid
}

// Bind adds the column values of v, then the JSON of the rest: of what is not
// zero only, {} where all of it is. v must be addressable.
func (r *Record) Bind(v reflect.Value, out Args, s *Scratch) (Args, error) {
	out, err := r.BindColumns(v, out)
	if err != nil {
		return nil, err
	}
	s.buf.Reset()
	for k, i := range r.more {
		f := v.Field(i)
		if f.IsZero() {
			continue
		}
		if s.buf.Len() == 0 {
			s.buf.WriteByte('{')
		} else {
			s.buf.WriteByte(',')
		}
		s.buf.WriteString(r.keys[k])
		if err := s.enc.Encode(f.Addr().Interface()); err != nil {
			return nil, err
		}
		s.buf.Truncate(s.buf.Len() - 1) // the encoder ends with a line feed
	}
	if s.buf.Len() == 0 {
		s.buf.WriteByte('{')
	}
	s.buf.WriteByte('}')
	return out.Add(s.buf.String()), nil
}

// textOf is the text of a field to which a pointer leads.
func textOf(field any) (string, error) {
	switch x := field.(type) {
	case *[]string:
		if len(*x) == 0 && *x != nil {
			return "[]", nil
		}
	case encoding.TextMarshaler:
		b, err := x.MarshalText()
		return string(b), err
	}
	b, err := json.Marshal(field)
	return string(b), err
}

// Fill sets the fields of v from a row: the columns, then the rest where it was read.
func (r *Record) Fill(v reflect.Value, row []driver.Value) error {
	for k, i := range r.index {
		if err := set(v.Field(i), row[k]); err != nil {
			return Unreadable(r.Names[k], err)
		}
	}
	if len(row) == len(r.index) || len(BytesOf(row[len(r.index)])) == 0 {
		return nil
	}
	rest := reflect.New(r.moreType)
	if err := ParseJSON(BytesOf(row[len(r.index)]), rest.Interface()); err != nil {
		return err
	}
	for k, i := range r.more {
		v.Field(i).Set(rest.Elem().Field(k))
	}
	return nil
}

// set stores one column's value in a field. A value from another program that the field cannot hold
// is an error.
func set(f reflect.Value, x driver.Value) error {
	switch f.Kind() {
	case reflect.Float64:
		n, err := Float64Of(x)
		f.SetFloat(n)
		return err
	case reflect.Int:
		n, ok := x.(int64)
		f.SetInt(n)
		return wrongIf(!ok, x)
	case reflect.Bool:
		b, ok := x.(bool)
		f.SetBool(b)
		return wrongIf(!ok, x)
	case reflect.String:
		s, ok := x.(string)
		if !ok {
			s = string(BytesOf(x))
			ok = s != ""
		}
		f.SetString(s)
		return wrongIf(!ok, x)
	case reflect.Pointer:
		if x == nil {
			return nil
		}
		n, err := Float64Of(x)
		f.Set(reflect.ValueOf(&n))
		return err
	}
	switch to := f.Addr().Interface().(type) {
	case encoding.TextUnmarshaler:
		return to.UnmarshalText(BytesOf(x))
	default:
		return ParseJSON(BytesOf(x), to)
	}
}

// Float64Of reads a number; anything else is an error.
func Float64Of(x driver.Value) (float64, error) {
	switch n := x.(type) {
	case float64:
		return n, nil
	case int64:
		return float64(n), nil
	}
	return 0, wrongIf(true, x)
}

func wrongIf(is bool, x driver.Value) error {
	if is {
		return fmt.Errorf("holds %.40v", x)
	}
	return nil
}

// Unreadable names the column with an unreadable value; nil and Faults pass.
func Unreadable(column string, err error) error {
	var f *Fault
	if err == nil || errors.As(err, &f) {
		return err
	}
	return &Fault{Kind: terrain.ErrRead, What: "column " + column + " cannot be read", Err: err, Fix: "run doctor on the catalogue"}
}

// JSONColumn scans a column of JSON into To; an empty one leaves it unchanged.
type JSONColumn struct{ To any }

// Scan is for database/sql.
func (c *JSONColumn) Scan(src any) error { return ParseJSON(BytesOf(src), c.To) }

// ParseJSON reads a column of JSON; an empty one leaves to unchanged.
func ParseJSON(b []byte, to any) error {
	if len(b) == 0 {
		return nil
	}
	if err := json.Unmarshal(b, to); err != nil {
		return &Fault{Kind: terrain.ErrRead, What: "a detail that cannot be read", Err: err, Fix: "run doctor on the catalogue"}
	}
	return nil
}

// BytesOf returns text or bytes, nil for anything else.
func BytesOf(src any) []byte {
	switch s := src.(type) {
	case string:
		return []byte(s)
	case []byte:
		return s
	}
	return nil
}
