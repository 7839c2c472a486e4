package specimen

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
)

// Damage is one way to spoil the bytes of a closed catalogue, for tests.
type Damage struct {
	What string
	Do   func(b []byte) []byte // may change b
}

// Root is a table or index of the file and the page at which it begins.
type Root struct {
	Name    string
	IsIndex bool
	Page    int
}

const (
	pageB     = 2048 // of a catalogue that this program makes
	innerPage = 5    // kind of a page of a table with pages below it, sqlite.org/fileformat2.html section 1.6
)

// walked are the tables whose first page is damaged in other ways, too.
var walked = []string{"descents", "holds", "reviews", "routes", "profiles", "classes", "provenance", "proposals", "advice", "texts", "sites", "history", "tangents"}

// Damages lists what is done to a catalogue of these bytes. values name bytes that are in it, of
// whose last occurrence one bit is turned.
func Damages(whole []byte, roots []Root, values map[string][]byte) []Damage {
	page := func(b []byte, n int) []byte { return b[(n-1)*pageB : n*pageB] }
	var zeroed, out []Damage
	add := func(what string, do func(b []byte)) {
		out = append(out, Damage{what, func(b []byte) []byte { do(b); return b }})
	}
	for _, r := range roots {
		kind := "table"
		if r.IsIndex {
			kind = "index"
		}
		zeroed = append(zeroed, Damage{fmt.Sprintf("first page of %s %s zeroed", kind, r.Name), func(b []byte) []byte { clear(page(b, r.Page)); return b }})
		if !slices.Contains(walked, r.Name) {
			continue
		}
		add("cell pointers of the first page of "+r.Name+" turned", func(b []byte) {
			p := page(b, r.Page)
			head := 8
			if p[0] == innerPage {
				head = 12
			}
			slices.Reverse(p[head : head+4])
		})
		add("number of cells in the first page of "+r.Name+" one less", func(b []byte) {
			p := page(b, r.Page)
			binary.BigEndian.PutUint16(p[3:], binary.BigEndian.Uint16(p[3:])-1)
		})
		if r.Name == "descents" {
			add("kind of the first page of descents", func(b []byte) { page(b, r.Page)[0] = 10 })
		}
	}
	for what, value := range values {
		if i := bytes.LastIndex(whole, value); i >= 0 {
			add(what, func(b []byte) { b[i+len(value)-1] ^= 1 })
		} else {
			panic(fmt.Sprintf("specimen: %q is not in the file", value))
		}
	}
	add("pages of two descents' rows exchanged", func(b []byte) {
		p, q := page(b, len(b)/pageB-1), page(b, len(b)/pageB-2)
		for i := range p {
			p[i], q[i] = q[i], p[i]
		}
	})
	for what, off := range map[string]int{
		"header: page size": 16, "header: write version": 18, "header: reserved bytes": 20, "header: number of pages": 31, "header: first free page": 35, "header: schema format": 47, "header: text encoding": 59,
	} {
		add(what, func(b []byte) { b[off] ^= 2 })
	}
	out = append(out,
		Damage{"half of the file cut off", func(b []byte) []byte { return b[:len(b)/2] }},
		Damage{"last page cut off", func(b []byte) []byte { return b[:len(b)-pageB] }},
		Damage{"a few bytes too many", func(b []byte) []byte { return append(b, "xxx"...) }},
		Damage{"all zeros", func(b []byte) []byte { clear(b); return b }},
		Damage{"empty", func([]byte) []byte { return nil }},
	)
	slices.SortStableFunc(out, func(a, b Damage) int { return strings.Compare(a.What, b.What) })
	return append(zeroed, out...)
}
