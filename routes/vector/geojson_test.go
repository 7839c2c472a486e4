package vector

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"gradeline/routes"
	"gradeline/terrain"
)

const line = `{"type":"LineString","coordinates":[[8,46],[8.1,46.1]]}`

func feat(props, geometry string) string {
	return `{"type":"Feature","properties":` + props + `,"geometry":` + geometry + `}`
}

func coll(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

// Every form that RFC 7946 and RFC 8142 allow for lines.
func TestForms(t *testing.T) {
	f := feat(`{"name":"A"}`, line)
	multi := `{"type":"MultiLineString","coordinates":[[[8,46],[8.1,46.1]],[[8.2,46],[8.3,46.1],[8.4,46]]]}`
	cases := []struct {
		name, text string
		lines      int
	}{
		{"collection", coll(f, f), 2},
		{"feature", f, 1},
		{"bare line", line, 1},
		{"bare multi", multi, 2},
		{"geometry collection", `{"type":"GeometryCollection","geometries":[` + line + "," + multi + `]}`, 3},
		{"nested collection", feat("{}", `{"type":"GeometryCollection","geometries":[{"type":"GeometryCollection","geometries":[`+line+`]}]}`), 1},
		{"newline-delimited", f + "\n" + f + "\r\n\n" + f, 3},
		{"text sequence", "\x1e" + f + "\n\x1e" + line + "\n", 2},
		{"byte order mark", "\xef\xbb\xbf" + f, 1},
		{"members in any order", `{"features":[{"geometry":{"coordinates":[[8,46],[8.1,46.1]],"type":"LineString"},"properties":{"a":{"type":"x","coordinates":[1]}},"type":"Feature"}],"x":[[{}]],"type":"FeatureCollection"}`, 1},
		{"foreign coordinates last", `{"type":"Feature","properties":null,"geometry":` + line + `,"coordinates":[[1,2],[3,4]]}`, 1},
		{"foreign coordinates first", `{"coordinates":[[1,2],[3,4]],"geometry":` + line + `,"type":"Feature"}`, 1},
		{"geometry within a geometry", `{"type":"LineString","geometry":` + multi + `,"properties":{"structures":7},"coordinates":[[8,46],[8.1,46.1]]}`, 1},
		{"geometry twice", `{"type":"Feature","geometry":` + multi + `,"geometry":` + line + `}`, 1},
		{"foreign members", `{"type":"Feature","features":[1],"coordinates":"no","bbox":[8,46,9,47],"id":7,"properties":null,"geometry":` + line + `}`, 1},
		{"four numbers", `{"type":"LineString","coordinates":[[8,46,1,2],[8.1,46.1,null,7e3]]}`, 1},
		{"crs 84", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},"features":[` + f + `]}`, 1},
		{"crs 4326", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:4326"}},"features":[` + f + `]}`, 1},
		{"beyond 180", `{"type":"LineString","coordinates":[[179.9,46],[180.1,46.1]]}`, 1},
	}
	for _, c := range cases {
		for _, slow := range []bool{false, true} {
			var r io.Reader = strings.NewReader(c.text)
			if slow {
				r = iotest.OneByteReader(r)
			}
			var got []routes.Feature
			skipped, err := Read(context.Background(), "-", Options{Stdin: r}, func(f routes.Feature) error {
				got = append(got, f)
				return nil
			})
			if err != nil || len(got) != c.lines || len(skipped) != 0 {
				t.Errorf("%s: %d lines, want %d; skipped %v; %v", c.name, len(got), c.lines, skipped, err)
			}
		}
	}
	fs, _, err := readText(t, cases[len(cases)-1].text)
	if err != nil || math.Abs(fs[0].Line[1][0]+179.9) > 1e-12 {
		t.Errorf("180.1° became %v, %v", fs[0].Line, err)
	}
}

func TestTags(t *testing.T) {
	fs, skipped, err := readText(t, feat(`{"name":"A\u0301ngel \"Pass\"\n\u202egnp.exe\u202c\u0007","lanes":2,"w":-1.50e0,"oneway":true,"x":null,"o":{"a":1},"l":[1],"\u0000k":"v","half":"\ud83d","whole":"\ud83d\ude9b","raw":"`+"\xff"+`"}`, line))
	if err != nil || len(skipped) != 0 {
		t.Fatal(err, skipped)
	}
	want := map[string]string{
		"name": "A\u0301ngel \"Pass\" \uFFFDgnp.exe\uFFFD\uFFFD", "lanes": "2", "w": "-1.50e0", "oneway": "true",
		"\uFFFDk": "v", "half": "\uFFFD", "whole": "🚛", "raw": "\uFFFD",
	}
	if fmt.Sprint(fs[0].Tags) != fmt.Sprint(want) {
		t.Errorf("got  %q\nwant %q", fs[0].Tags, want)
	}
}

// What is valid JSON but no road line is told with its place.
func TestSkipped(t *testing.T) {
	cases := []struct{ feature, why string }{
		{feat(`{}`, `null`), "no geometry"},
		{`{"type":"Feature","properties":null}`, "no geometry"},
		{feat(`{}`, `{"type":"Point","coordinates":[8,46]}`), "point"},
		{feat(`{}`, `{"type":"Polygon","coordinates":[[[8,46],[9,46],[9,47],[8,46]]]}`), "polygon"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8,46]]}`), "one vertex"},
		{feat(`{}`, `{"type":"LineString","coordinates":[]}`), "no vertices"},
		{feat(`{}`, `{"type":"MultiLineString","coordinates":[]}`), "no vertices"},
		{feat(`{}`, `{"type":"LineString"}`), "no coordinates"},
		{feat(`{}`, `{"type":"LineString","coordinates":null}`), "not an array"},
		{feat(`{}`, `{"type":"LineString","coordinates":[8,46]}`), "nested"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[[8,46],[8,47]]]}`), "nested"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8,46],[[8,47]]]}`), "unevenly"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8],[8,47]]}`), "one number"},
		{feat(`{}`, `{"type":"LineString","coordinates":[["8","46"],["8","47"]]}`), "not a number"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8,46],[NaN,47]]}`), "vertex 2"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8,46],[null,47]]}`), "not a number"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8,46],[1e999,47]]}`), "not a longitude"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[8,46],[-Infinity,47]]}`), "not a number"},
		{feat(`{"name":"K"}`, `{"type":"LineString","coordinates":[[46,-105],[46,-106]]}`), "swapped"},
		{feat(`{}`, `{"type":"LineString","coordinates":[[456789,5123456],[456999,5123456]]}`), "reproject"},
		{feat(`{}`, `{"type":"Curve","coordinates":[[8,46],[8,47]]}`), "unknown"},
		{`{"type":"Road","geometry":` + line + `}`, `"Road"`},
		{`7`, "not a GeoJSON object"},
		{feat(`{"structures":[{"kind":"bridge","from_m":9,"to_m":3}]}`, line), "ascending"},
		{feat(`{"structures":[{"kind":"bridge","from_m":-9,"to_m":3}]}`, line), "0 or more"},
		{feat(`{"structures":[{"kind":"bridge"}]}`, line), "from_m"},
		{feat(`{"structures":[7]}`, line), "from_m"},
		{feat(`{"structures":"viaduct"}`, line), "list"},
		{feat(`{"structures":[{"kind":"bridge","from_m":1,"to_m":3}]}`, `{"type":"MultiLineString","coordinates":[[[8,46],[8.1,46.1]],[[8.2,46],[8.3,46.1]]]}`), "several parts"},
		{feat(`{}`, `{"type":"MultiLineString","coordinates":[[[8,46],[8.1,46.1]],[[8.2,46]]]}`), "part 2 of 2"},
	}
	for _, c := range cases {
		fs, skipped, err := readText(t, coll(feat(`{"name":"good"}`, line), c.feature, feat(`{"name":"last"}`, line)))
		if err != nil || len(fs) < 2 || fs[len(fs)-1].Place.Feature != 3 {
			t.Errorf("%s: %d lines, %v", c.feature, len(fs), err)
			continue
		}
		if len(skipped) != 1 || !strings.Contains(skipped[0].Why, c.why) || !strings.HasPrefix(skipped[0].Where, "-, feature 2") {
			t.Errorf("%s: %+v, want %q", c.feature, skipped, c.why)
		}
	}
	var many []string
	for range 5000 {
		many = append(many, feat(`{}`, `{"type":"Point","coordinates":[8,46]}`))
	}
	_, skipped, err := readText(t, coll(append(many, feat(`{}`, line))...))
	if err != nil || len(skipped) != skipsOfAKind+1 || !strings.Contains(skipped[skipsOfAKind].Where, "4980 more") {
		t.Errorf("%v %v", skipped, err)
	}
}

// What is no GeoJSON, or cut short, is a fault with its place.
func TestFaults(t *testing.T) {
	deep := strings.Repeat("[", 100)
	cases := []struct {
		text string
		kind error
		says []string
	}{
		{"", terrain.ErrInput, []string{"empty"}},
		{" \n ", terrain.ErrInput, []string{"empty"}},
		{"hello", terrain.ErrInput, []string{"line 1", "'h'"}},
		{"[1,2]", terrain.ErrInput, []string{"'['"}},
		{"{}", terrain.ErrInput, []string{"type"}},
		{`{"type":"Topology"}`, terrain.ErrInput, []string{"TopoJSON"}},
		{`{"type":"FeatureCollection"}`, terrain.ErrInput, []string{"without features"}},
		{coll(), terrain.ErrInput, []string{"no road line"}},
		{coll(feat(`{}`, `null`)), terrain.ErrInput, []string{"no road line", "no geometry"}},
		{"{\"type\":\"FeatureCollection\",\n\"features\":[\n" + feat(`{}`, line) + ",\n" + feat(`{}`, line)[:70], terrain.ErrInput, []string{"feature 2", "line 4", "truncated"}},
		{coll(feat(`{}`, line) + feat(`{}`, line)), terrain.ErrInput, []string{"feature 1", "','"}},
		{coll(feat(`{"a":01}`, line)), terrain.ErrInput, []string{"number"}},
		{coll(feat(`{"a":"\x"}`, line)), terrain.ErrInput, []string{`\x`}},
		{coll(feat(`{"a":"\u12g4"}`, line)), terrain.ErrInput, []string{"hexadecimal"}},
		{coll(feat(`{"a":tru}`, line)), terrain.ErrInput, nil},
		{coll(feat(`{"a":1,}`, line)), terrain.ErrInput, nil},
		{coll(feat(`{"a":"`+"\x01"+`"}`, line)), terrain.ErrInput, nil},
		{coll(feat(`{"a":`+deep+strings.Repeat("]", 100)+`}`, line)), terrain.ErrInput, []string{"64 deep"}},
		{coll(feat(`{}`, `{"type":"LineString","coordinates":`+deep)), terrain.ErrInput, []string{"deep"}},
		{coll(feat(`{}`, `{"type":"LineString","coordinates":[[1,2],[3,4],[5,6],[7,8],[9,10],[1,1]]}`)), terrain.ErrInput, []string{"more than 5 vertices"}},
		{coll(feat(`{}`, `{"type":"LineString","coordinates":[[`+strings.Repeat("1", 300)+`,2]]}`)), terrain.ErrInput, []string{"128 characters"}},
		{coll(feat(`{"a":"`+strings.Repeat("x", 3<<20)+`"}`, line)), terrain.ErrInput, []string{"1048576 bytes"}},
		{"\x1f\x8b\x08", terrain.ErrInput, []string{"gzip"}},
		{"\xff\xfe{\x00", terrain.ErrInput, []string{"UTF-8"}},
		{feat(`{}`, line) + "}", terrain.ErrInput, nil},
		{`{"type":"FeatureCollection","crs":null,"features":[]}`, terrain.ErrNoCRS, nil},
		{`{"type":"FeatureCollection","crs":{"type":"link"},"features":[]}`, terrain.ErrNoCRS, nil},
		{`{"type":"FeatureCollection","features":[` + feat(`{}`, line) + `],"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25832"}}}`, terrain.ErrInput, []string{"EPSG::25832", "ogr2ogr"}},
	}
	for _, c := range cases {
		_, err := Read(context.Background(), "-", Options{Stdin: strings.NewReader(c.text), MaxVertices: 5}, func(routes.Feature) error { return nil })
		name := c.text[:min(len(c.text), 60)]
		var f *routes.Fault
		if !errors.Is(err, c.kind) || !errors.As(err, &f) || f.File != "-" {
			t.Errorf("%s: %v, want %v", name, err, c.kind)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%s: %v; does not say %q", name, err, s)
			}
		}
	}
}

func TestReadStops(t *testing.T) {
	text := coll(feat(`{}`, line), feat(`{}`, line))
	own := errors.New("stop")
	n := 0
	_, err := Read(context.Background(), "-", Options{Stdin: strings.NewReader(text)}, func(routes.Feature) error { n++; return own })
	if err != own || n != 1 {
		t.Errorf("%d lines, %v", n, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Read(ctx, "-", Options{Stdin: strings.NewReader(text)}, func(routes.Feature) error { return nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	broken := io.MultiReader(strings.NewReader(text[:200]), iotest.ErrReader(errors.New("disk gone")))
	_, err = Read(context.Background(), "-", Options{Stdin: broken}, func(routes.Feature) error { return nil })
	if !errors.Is(err, terrain.ErrRead) || !strings.Contains(err.Error(), "disk gone") {
		t.Errorf("broken: %v", err)
	}
	if _, err = Read(context.Background(), "-", Options{}, nil); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("no input: %v", err)
	}
}
