package store

import (
	"bytes"
	"database/sql/driver"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// record maps a struct to columns named as its JSON keys; what has no column of
// its own goes into one JSON text, so that a field added later is kept too.
type record struct {
	names    []string
	index    []int    // fields with a column
	more     []int    // the others
	keys     []string // their JSON keys, with quotes and colon
	moreType reflect.Type
}

var (
	descentRecord = recordOf(reflect.TypeFor[routes.Descent](), "descents")
	holdRecord    = recordOf(reflect.TypeFor[catalog.Hold](), "holds")
)

func recordOf(t reflect.Type, tableName string) record {
	columns := map[string]bool{}
	for i := range tables {
		if tables[i].name == tableName {
			for _, c := range tables[i].columns {
				columns[c.name] = true
			}
		}
	}
	var r record
	var rest []reflect.StructField
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if columns[name] {
			r.names, r.index = append(r.names, name), append(r.index, i)
		} else {
			rest, r.more, r.keys = append(rest, f), append(r.more, i), append(r.keys, strconv.Quote(name)+":")
		}
	}
	r.moreType = reflect.StructOf(rest)
	return r
}

// scratch is memory in which the JSON of one row after another is put together.
type scratch struct {
	buf bytes.Buffer
	enc *json.Encoder // into buf
}

func newScratch() *scratch {
	s := &scratch{}
	s.enc = json.NewEncoder(&s.buf)
	return s
}

// bind adds the column values of v, then the JSON of the rest: of what is not
// zero only, "" where all of it is. v must be addressable.
func (r *record) bind(v reflect.Value, out vals, s *scratch) (vals, error) {
	for _, i := range r.index {
		f := v.Field(i)
		var x any
		switch {
		case f.Kind() == reflect.Float64:
			x = f.Float()
		case f.Kind() == reflect.Int:
			x = f.Int()
		case f.Kind() == reflect.Bool:
			x = f.Bool()
		case f.Kind() == reflect.String:
			x = f.String()
		case f.Type() == reflect.TypeFor[*float64]():
			if !f.IsNil() {
				x = f.Elem().Float()
			}
		default:
			b, err := textOf(f.Interface())
			if err != nil {
				return nil, err
			}
			x = string(b)
		}
		out = out.add(x)
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
	if s.buf.Len() > 0 {
		s.buf.WriteByte('}')
	}
	return out.add(s.buf.String()), nil
}

func textOf(x any) ([]byte, error) {
	if m, ok := x.(encoding.TextMarshaler); ok {
		return m.MarshalText()
	}
	return json.Marshal(x)
}

// fill sets the fields of v from a row: the columns, then the rest where it was read.
func (r *record) fill(v reflect.Value, row []driver.Value) error {
	for k, i := range r.index {
		if err := set(v.Field(i), row[k]); err != nil {
			return unreadable(r.names[k], err)
		}
	}
	if len(row) == len(r.index) || len(bytesOf(row[len(r.index)])) == 0 {
		return nil
	}
	rest := reflect.New(r.moreType)
	if err := jsonInto(bytesOf(row[len(r.index)]), rest.Interface()); err != nil {
		return err
	}
	for k, i := range r.more {
		v.Field(i).Set(rest.Elem().Field(k))
	}
	return nil
}

// set puts one column's value into a field. What another program may have put
// there and the field cannot hold is an error.
func set(f reflect.Value, x driver.Value) error {
	switch f.Kind() {
	case reflect.Float64:
		n, err := number64(x)
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
			s = string(bytesOf(x))
			ok = s != ""
		}
		f.SetString(s)
		return wrongIf(!ok, x)
	case reflect.Pointer:
		if x == nil {
			return nil
		}
		n, err := number64(x)
		f.Set(reflect.ValueOf(&n))
		return err
	}
	switch to := f.Addr().Interface().(type) {
	case encoding.TextUnmarshaler:
		return to.UnmarshalText(bytesOf(x))
	default:
		return jsonInto(bytesOf(x), to)
	}
}

func number64(x driver.Value) (float64, error) {
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

func unreadable(column string, err error) error {
	var f *Fault
	if err == nil || errors.As(err, &f) {
		return err
	}
	return &Fault{Kind: terrain.ErrRead, What: "column " + column + " cannot be read", Err: err, Fix: "run doctor on the catalogue"}
}

type jsonColumn struct{ to any }

func (c *jsonColumn) Scan(src any) error { return jsonInto(bytesOf(src), c.to) }

func jsonInto(b []byte, to any) error {
	if len(b) == 0 {
		return nil
	}
	if err := json.Unmarshal(b, to); err != nil {
		return &Fault{Kind: terrain.ErrRead, What: "a detail that cannot be read", Err: err, Fix: "run doctor on the catalogue"}
	}
	return nil
}

func bytesOf(src any) []byte {
	switch s := src.(type) {
	case string:
		return []byte(s)
	case []byte:
		return s
	}
	return nil
}

// sound refuses what no column or JSON can hold truly: NaN and infinities, text
// that is not UTF-8 or holds a NUL.
func sound(v reflect.Value, path string) error {
	where, f := unsound(v)
	if f == nil {
		return nil
	}
	f.What = strings.TrimPrefix(path+where, ".") + f.What
	return f
}

// unsound finds the first bad value; its path is put together on the way back.
func unsound(v reflect.Value) (path string, f *Fault) {
	switch v.Kind() {
	case reflect.Float64, reflect.Float32:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return "", &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf(" is %v", x), Fix: "a figure that is not known must not be stored; survey the route again"}
		}
	case reflect.String:
		if s := v.String(); !utf8.ValidString(s) || strings.IndexByte(s, 0) >= 0 {
			return "", &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf(" is not clean text: %q", s), Fix: "write names in UTF-8 without NUL characters"}
		}
	case reflect.Pointer:
		if !v.IsNil() {
			return unsound(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			if path, f := unsound(v.Index(i)); f != nil {
				return path, f
			}
		}
	case reflect.Struct:
		if v.Type() == timeType {
			return "", nil
		}
		for i := range v.NumField() {
			path, f := unsound(v.Field(i))
			if f == nil {
				continue
			}
			field := v.Type().Field(i)
			name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			if name == "" || name == "-" {
				name = field.Name
			}
			return "." + name + path, f
		}
	}
	return "", nil
}

var timeType = reflect.TypeFor[time.Time]()
