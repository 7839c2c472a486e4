package compact

import (
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
)

// kind is the form of a value; its letter is in a layout's text.
type kind byte

const (
	figure    kind = 'f'
	integer   kind = 'i'
	truth     kind = 'b'
	sentence  kind = 's'
	asJSON    kind = 'j' // a type with its own JSON form, or of texts only
	list      kind = '['
	structure kind = '{'
	orNone    kind = '*'
)

// node is one value of a layout.
type node struct {
	kind   kind
	of     *node    // the element of a list, or of an optional value
	names  []string // of a structure's fields
	fields []*node
	index  []int        // of the fields, in their Go struct
	offset []uintptr    // of the fields, in its memory
	typ    reflect.Type // nil for a node that was read from a layout's text
	// ofTexts is the number of texts of an element where the value is a list of structs of texts only.
	ofTexts int
}

// Layout is the form in which structs of a type are written.
type Layout struct {
	root *node
	text string
}

// NewLayout returns the layout of the named fields of a struct type, by their JSON names.
func NewLayout(t reflect.Type, fields []string) (*Layout, error) {
	all, err := nodeOf(t, 0)
	if err != nil {
		return nil, err
	}
	if all.kind != structure {
		return nil, fmt.Errorf("compact: %v is not a struct", t)
	}
	root := &node{kind: structure, typ: t}
	for _, name := range fields {
		i := all.field(name)
		if i < 0 {
			return nil, fmt.Errorf("compact: %v has no field %q", t, name)
		}
		root.names, root.fields, root.index = append(root.names, name), append(root.fields, all.fields[i]), append(root.index, all.index[i])
		root.offset = append(root.offset, all.offset[i])
	}
	l := &Layout{root: root}
	l.text = string(root.appendText(nil))
	return l, nil
}

const deepest = 16 // structs within structs

var (
	textMarshaler = reflect.TypeFor[encoding.TextMarshaler]()
	jsonMarshaler = reflect.TypeFor[json.Marshaler]()
)

// addFields adds a node for each field of a struct, by its JSON name.
func (n *node) addFields(depth int) error {
	for i := range n.typ.NumField() {
		name, _, _ := strings.Cut(n.typ.Field(i).Tag.Get("json"), ",")
		if name == "" {
			name = n.typ.Field(i).Name
		}
		f, err := nodeOf(n.typ.Field(i).Type, depth+1)
		if err != nil {
			return err
		}
		n.names, n.fields, n.index = append(n.names, name), append(n.fields, f), append(n.index, i)
		n.offset = append(n.offset, n.typ.Field(i).Offset)
	}
	return nil
}

func nodeOf(t reflect.Type, depth int) (*node, error) {
	if depth > deepest {
		return nil, fmt.Errorf("compact: %v is too deep", t)
	}
	n := &node{typ: t}
	switch k := t.Kind(); {
	case t.Implements(textMarshaler) || t.Implements(jsonMarshaler) || isOfTextsAlone(t):
		n.kind = asJSON
		if !t.Implements(textMarshaler) && !t.Implements(jsonMarshaler) {
			n.ofTexts = t.Elem().NumField()
		}
	case k == reflect.Float64:
		n.kind = figure
	case k >= reflect.Int && k <= reflect.Int64:
		n.kind = integer
	case k == reflect.Bool:
		n.kind = truth
	case k == reflect.String:
		n.kind = sentence
	case k == reflect.Slice, k == reflect.Pointer:
		n.kind = list
		if k == reflect.Pointer {
			n.kind = orNone
		}
		var err error
		n.of, err = nodeOf(t.Elem(), depth+1)
		return n, err
	case k == reflect.Struct:
		n.kind = structure
		return n, n.addFields(depth)
	default:
		n.kind = asJSON
	}
	return n, nil
}

// isOfTextsAlone reports whether t is a list of structs that hold only texts: such lists often
// repeat unchanged.
func isOfTextsAlone(t reflect.Type) bool {
	if t.Kind() != reflect.Slice || t.Elem().Kind() != reflect.Struct {
		return false
	}
	for i := range t.Elem().NumField() {
		if t.Elem().Field(i).Type.Kind() != reflect.String {
			return false
		}
	}
	return true
}

// field is the place of a field by name; -1 where there is none.
func (n *node) field(name string) int {
	for i := range n.names {
		if n.names[i] == name {
			return i
		}
	}
	return -1
}

// Text names the fields with their kinds, as in {mass_kg:f,heat:[{temp_c:f}]}. Bytes
// are read with the text of the layout that they were written with.
func (l *Layout) Text() string { return l.text }

func (n *node) appendText(b []byte) []byte {
	b = append(b, byte(n.kind))
	switch n.kind {
	case list, orNone:
		b = n.of.appendText(b)
		if n.kind == list {
			b = append(b, ']')
		}
	case structure:
		for i, f := range n.fields {
			if i > 0 {
				b = append(b, ',')
			}
			b = f.appendText(append(append(b, n.names[i]...), ':'))
		}
		b = append(b, '}')
	}
	return b
}

var errLayout = errors.New("not the text of a layout")

// parseLayout reads a layout's text.
func parseLayout(text string) (*node, error) {
	n, rest, err := parseNode(text, 0)
	if err == nil && (rest != "" || n.kind != structure) {
		err = errLayout
	}
	return n, err
}

func parseNode(s string, depth int) (*node, string, error) {
	if s == "" || depth > 2*deepest {
		return nil, "", errLayout
	}
	n := &node{kind: kind(s[0])}
	s = s[1:]
	switch n.kind {
	case figure, integer, truth, sentence, asJSON:
		return n, s, nil
	case list, orNone:
		var err error
		if n.of, s, err = parseNode(s, depth+1); err != nil {
			return nil, "", err
		}
		if n.kind == list {
			var ok bool
			if s, ok = strings.CutPrefix(s, "]"); !ok {
				return nil, "", errLayout
			}
		}
		return n, s, nil
	case structure:
		return parseFields(n, s, depth)
	}
	return nil, "", errLayout
}

func parseFields(n *node, s string, depth int) (*node, string, error) {
	for !strings.HasPrefix(s, "}") {
		if len(n.fields) > 0 {
			var ok bool
			if s, ok = strings.CutPrefix(s, ","); !ok {
				return nil, "", errLayout
			}
		}
		name, rest, ok := strings.Cut(s, ":")
		if !ok || n.field(name) >= 0 || strings.ContainsAny(name, "{}[],") {
			return nil, "", errLayout
		}
		f, rest, err := parseNode(rest, depth+1)
		if err != nil {
			return nil, "", err
		}
		n.names, n.fields = append(n.names, name), append(n.fields, f)
		s = rest
	}
	return n, s[1:], nil
}
