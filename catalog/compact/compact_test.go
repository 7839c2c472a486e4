package compact

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Columns of integers of any size come back, and nothing of what follows them is read.
func TestIntsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		column := rapid.SliceOfN(rapid.OneOf(rapid.Int64(), rapid.Int64Range(-9, 9), rapid.Just(int64(0)), rapid.Int64Range(-1e6, 1e6)), 0, 400).Draw(t, "column")
		b := append(AppendInts([]byte("before"), column), "after"...)
		r := NewReader(b[len("before"):])
		got := make([]int64, len(column))
		r.Ints(got)
		if r.Err() != nil || !slices.Equal(got, column) || string(r.Rest()) != "after" {
			t.Fatalf("%v, rest %q, %v", got, r.Rest(), r.Err())
		}
	})
}

// Figures come back bit for bit: with few decimals, with many, no numbers, both zeros.
func TestFloatsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		decimal := rapid.Map(rapid.IntRange(-1e8, 1e8), func(n int) float64 { return float64(n) / 1000 })
		one := rapid.OneOf(rapid.Float64(), decimal, rapid.SampledFrom([]float64{0, math.Copysign(0, -1), math.NaN(), math.Inf(1), 22 / 3.6, 1e300, 5e-324}))
		column := rapid.OneOf(rapid.SliceOfN(one, 0, 300), rapid.SliceOfN(decimal, 0, 300)).Draw(t, "column")
		var pool *Pool
		if rapid.Bool().Draw(t, "pool") {
			pool = &Pool{}
		}
		r := NewReader(append(AppendFloats(nil, column, pool), 'x'))
		got := make([]float64, len(column))
		var kept []float64
		if pool != nil {
			kept = pool.list
		}
		r.Floats(got, kept)
		for i := range column {
			if math.Float64bits(got[i]) != math.Float64bits(column[i]) {
				t.Fatalf("value %d: %v for %v", i, got[i], column[i])
			}
		}
		if r.Err() != nil || string(r.Rest()) != "x" {
			t.Fatalf("rest %q, %v", r.Rest(), r.Err())
		}
	})
}

// Sentences come back letter for letter.
func TestSentencesComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-c0-9#=.]{0,40}`), rapid.StringMatching(`[0-9]{0,60}`)).Draw(t, "s")
		var texts Texts
		i, numbers := texts.split(s, nil, &recentForms{})
		form := ""
		if i > 0 {
			form = texts.list[i-1]
		}
		got, rest, ok := join(form, numbers)
		if !ok || len(rest) > 0 || got != s || numbersIn(form) != len(numbers) {
			t.Fatalf("%q came back as %q (form %q, numbers %v)", s, got, form, numbers)
		}
	})
}

func TestOneFormForManySentences(t *testing.T) {
	var texts Texts
	for _, s := range []string{"gear 5 and 20 mph", "gear 11 and 7 mph", "gear 2 and 05 mph"} {
		texts.split(s, nil, &recentForms{})
	}
	if got := texts.List(); len(got) != 1 || got[0] != "gear # and # mph" {
		t.Errorf("forms %q", got)
	}
}

type inner struct {
	Name string  `json:"name"`
	AtM  float64 `json:"at_m"`
	Odd  bool    `json:"odd"`
}

type note struct{ Figure, Source string }

type outer struct {
	Class  string            `json:"class"`
	Count  int               `json:"count"`
	TempC  *float64          `json:"temp_c"`
	Words  []string          `json:"words"`
	Parts  []inner           `json:"parts"`
	One    *inner            `json:"one"`
	Notes  []note            `json:"notes"`
	ByName map[string]string `json:"by_name"`
	Pair   struct{ A, B int }
}

var allOfOuter = []string{"class", "count", "temp_c", "words", "parts", "one", "notes", "by_name", "Pair"}

func drawOuter(t *rapid.T) outer {
	number := rapid.Float64Range(-1e9, 1e9)
	part := rapid.Custom(func(t *rapid.T) inner {
		return inner{rapid.StringMatching("part [0-9]{1,4}|").Draw(t, "name"), number.Draw(t, "at"), rapid.Bool().Draw(t, "odd")}
	})
	o := outer{Class: rapid.String().Draw(t, "class"), Count: rapid.Int().Draw(t, "count")}
	if rapid.Bool().Draw(t, "temp") {
		v := number.Draw(t, "v")
		o.TempC = &v
	}
	if rapid.Bool().Draw(t, "words") {
		o.Words = rapid.SliceOf(rapid.String()).Draw(t, "list")
	}
	if rapid.Bool().Draw(t, "parts") {
		o.Parts = rapid.SliceOf(part).Draw(t, "list")
	}
	if rapid.Bool().Draw(t, "one") {
		v := part.Draw(t, "v")
		o.One = &v
	}
	if rapid.Bool().Draw(t, "notes") {
		o.Notes = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) note {
			return note{rapid.StringMatching("[a-z]{1,3}").Draw(t, "f"), rapid.StringMatching("[a-z#= ]*").Draw(t, "s")}
		}), 0, 4).Draw(t, "list")
	}
	if rapid.Bool().Draw(t, "map") {
		o.ByName = map[string]string{"a": "b"}
	}
	o.Pair.A = rapid.IntRange(-5, 5).Draw(t, "a")
	return o
}

func layout(t interface{ Fatal(...any) }, typ reflect.Type, fields ...string) *Layout {
	l, err := NewLayout(typ, fields)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Structs come back as they were, nil lists as nil, one set after the other through the
// same writer and schema.
func TestStructsComeBack(t *testing.T) {
	l := layout(t, reflect.TypeFor[outer](), allOfOuter...)
	w := NewWriter(l)
	schema, err := ParseSchema(l.Text())
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.Custom(drawOuter), 0, 6).Draw(t, "structs")
		b, texts, err := w.Append(nil, reflect.ValueOf(want))
		if err != nil {
			t.Fatal(err)
		}
		got, err := schema.Read(b, l, texts)
		if err != nil || !reflect.DeepEqual(got.Interface(), want) && len(want) > 0 {
			t.Fatalf("%+v\nfor %+v, %v", got, want, err)
		}
	})
}

// A field that was added reads as zero, one that was dropped is passed over, an integer
// may become a figure; anything else of another kind is refused.
func TestLayoutsMayDiffer(t *testing.T) {
	type before struct {
		Gone  []inner `json:"gone"`
		Count int     `json:"count"`
		Class string  `json:"class"`
	}
	type after struct {
		Class string   `json:"class"`
		Count float64  `json:"count"`
		Extra []string `json:"extra"`
	}
	type other struct {
		Class []string `json:"class"`
	}
	old := layout(t, reflect.TypeFor[before](), "gone", "count", "class")
	b, texts, err := NewWriter(old).Append(nil, reflect.ValueOf([]before{{[]inner{{"a 1", 2.5, true}}, 7, "heavy 3"}, {nil, 8, ""}}))
	if err != nil {
		t.Fatal(err)
	}
	schema, err := ParseSchema(old.Text())
	if err != nil {
		t.Fatal(err)
	}
	got, err := schema.Read(b, layout(t, reflect.TypeFor[after](), "class", "count", "extra"), texts)
	if want := []after{{"heavy 3", 7, nil}, {"", 8, nil}}; err != nil || !reflect.DeepEqual(got.Interface(), want) {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := schema.Read(b, layout(t, reflect.TypeFor[other](), "class"), texts); !errors.Is(err, ErrDamaged) {
		t.Errorf("a list where a text stands: %v", err)
	}
}

func TestTextsThatAreNoLayout(t *testing.T) {
	for _, s := range []string{"", "f", "{", "{a}", "{a:}", "{a:f", "{a:f,a:f}", "{a:[f}", "{a:f}x", "{a:x}", "{a:f,}", "{" + strings.Repeat("a:[", 100)} {
		if _, err := ParseSchema(s); err == nil {
			t.Errorf("%q passes", s)
		}
	}
}

// Neither cut nor changed bytes panic, nor does one with too few texts; what they claim
// to hold does not fill the memory.
func FuzzRead(f *testing.F) {
	l := layout(f, reflect.TypeFor[outer](), allOfOuter...)
	v := 3.25
	b, texts, err := NewWriter(l).Append(nil, reflect.ValueOf([]outer{{Class: "a 1", TempC: &v, Words: []string{"x 05"}, Parts: []inner{{"p", 22 / 3.6, true}}, Notes: []note{{"n", "s"}}}, {}}))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b, 4)
	f.Add(b[:len(b)/2], 0)
	f.Add([]byte{255, 255, 15, 0, 0, 0, 0}, 4)
	schema, err := ParseSchema(l.Text())
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, b []byte, have int) {
		got, err := schema.Read(b, l, texts[:min(max(have, 0), len(texts))])
		if err == nil && got.Len() > mostItems {
			t.Errorf("%d structs of %d bytes", got.Len(), len(b))
		}
	})
}
