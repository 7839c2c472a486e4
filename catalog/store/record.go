package store

import (
	"encoding"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
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
	index    []int // fields with a column
	more     []int // the others
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
			rest, r.more = append(rest, f), append(r.more, i)
		}
	}
	r.moreType = reflect.StructOf(rest)
	return r
}

// bind gives the column values of v, then the JSON of the rest ("" where it is
// all zero).
func (r *record) bind(v reflect.Value, out []any) ([]any, error) {
	for _, i := range r.index {
		switch x := v.Field(i).Interface().(type) {
		case float64, int, bool, string:
			out = append(out, x)
		case *float64:
			if x == nil {
				out = append(out, nil)
			} else {
				out = append(out, *x)
			}
		case encoding.TextMarshaler:
			b, err := x.MarshalText()
			if err != nil {
				return nil, err
			}
			out = append(out, string(b))
		default:
			b, err := json.Marshal(x)
			if err != nil {
				return nil, err
			}
			out = append(out, string(b))
		}
	}
	rest := reflect.New(r.moreType).Elem()
	for k, i := range r.more {
		rest.Field(k).Set(v.Field(i))
	}
	if rest.IsZero() {
		return append(out, ""), nil
	}
	b, err := json.Marshal(rest.Interface())
	return append(out, string(b)), err
}

// targets gives what to scan the columns into, then the rest.
func (r *record) targets(v reflect.Value, out []any, brief bool) []any {
	for _, i := range r.index {
		p := v.Field(i).Addr().Interface()
		switch x := p.(type) {
		case *float64, *int, *bool, *string, **float64:
		case encoding.TextUnmarshaler:
			p = &textColumn{x}
		default:
			p = &jsonColumn{p}
		}
		out = append(out, p)
	}
	if brief {
		return append(out, new(any))
	}
	return append(out, &moreColumn{r, v})
}

type textColumn struct{ to encoding.TextUnmarshaler }

func (c *textColumn) Scan(src any) error { return c.to.UnmarshalText(bytesOf(src)) }

type jsonColumn struct{ to any }

func (c *jsonColumn) Scan(src any) error { return jsonInto(bytesOf(src), c.to) }

type moreColumn struct {
	r *record
	v reflect.Value
}

func (c *moreColumn) Scan(src any) error {
	b := bytesOf(src)
	if len(b) == 0 {
		return nil
	}
	rest := reflect.New(c.r.moreType)
	if err := jsonInto(b, rest.Interface()); err != nil {
		return err
	}
	for k, i := range c.r.more {
		c.v.Field(i).Set(rest.Elem().Field(k))
	}
	return nil
}

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
