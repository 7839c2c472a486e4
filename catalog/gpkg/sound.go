package gpkg

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
	"unsafe"

	"gradeline/catalog"
	"gradeline/terrain"
)

// CheckSound refuses values that no column or JSON can hold exactly: NaN and infinities, text that
// is not UTF-8 or holds a NUL.
func CheckSound(v reflect.Value, path string) error {
	where, f := unsound(v)
	if f == nil {
		return nil
	}
	f.What = strings.TrimPrefix(path+where, ".") + f.What
	return f
}

// unsound finds the first bad value; its path is built on the way back.
func unsound(v reflect.Value) (path string, f *Fault) {
	switch v.Kind() {
	case reflect.Float64, reflect.Float32:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return "", &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf(" is %v", x), Fix: "an unknown figure must not be stored; survey the route again"}
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
		if areSound(v) {
			return "", nil
		}
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

// areSound reports whether all figures of a list of structs are numbers, where they hold nothing but
// figures: lines and heat, most of what is stored. It is false where one is not, and for any other
// list.
func areSound(v reflect.Value) bool {
	if v.Len() == 0 || !isOfFigures(v.Type().Elem()) {
		return false
	}
	const notFinite = 0x7ff << 52 // IEEE 754 binary64: an exponent of ones is an infinity or no number
	for _, bits := range unsafe.Slice((*uint64)(v.UnsafePointer()), uintptr(v.Len())*v.Type().Elem().Size()/8) {
		if bits&notFinite == notFinite {
			return false
		}
	}
	return true
}

var ofFigures sync.Map // bool by type

// isOfFigures reports whether a type is a struct of float64 fields alone.
func isOfFigures(t reflect.Type) bool {
	if is, known := ofFigures.Load(t); known {
		return is.(bool)
	}
	is := t.Kind() == reflect.Struct
	for i := 0; is && i < t.NumField(); i++ {
		is = t.Field(i).Type.Kind() == reflect.Float64
	}
	ofFigures.Store(t, is)
	return is
}

var timeType = reflect.TypeFor[time.Time]()

// CheckLine refuses a line with fewer than two vertices or outside the range of coordinates.
func CheckLine(line []catalog.Vertex) error {
	if len(line) < 2 || len(line) > MaxVertices {
		return &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("a line of %d vertices", len(line)), Fix: "a descent needs at least two"}
	}
	for _, v := range line {
		if !(terrain.Point{LonDeg: v.LonDeg, LatDeg: v.LatDeg}).Valid() {
			p := terrain.Point{LonDeg: v.LonDeg, LatDeg: v.LatDeg}
			return &Fault{Kind: catalog.ErrImpossible, Point: &p, What: "outside ±180 and ±90 degrees", Fix: "check whether longitude and latitude are swapped"}
		}
	}
	return nil
}
