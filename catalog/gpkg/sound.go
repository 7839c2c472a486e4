package gpkg

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/terrain"
)

// CheckSound refuses values that no column or JSON can hold exactly: NaN and infinities, text that
// is not UTF-8 or holds a NUL. v is a struct or a pointer to one; through a pointer nothing is copied.
func CheckSound(v reflect.Value, path string) error {
	if v.Kind() == reflect.Pointer && !v.IsNil() && shapeOf(v.Type().Elem()).isSound(v.UnsafePointer()) {
		return nil
	}
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
