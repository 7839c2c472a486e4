package vector

import (
	"context"
	"strings"
	"testing"

	"gradeline/routes"
)

// readText reads a GeoJSON text through the path of standard input.
func readText(t *testing.T, text string) ([]routes.Feature, []routes.Skipped, error) {
	t.Helper()
	var fs []routes.Feature
	sk, err := Read(context.Background(), "-", Options{Stdin: strings.NewReader(text)}, func(f routes.Feature) error {
		fs = append(fs, f)
		return nil
	})
	return fs, sk, err
}

func TestReadSmoke(t *testing.T) {
	fs, sk, err := readText(t, `{"type":"FeatureCollection","features":[
 {"type":"Feature","properties":{"name":"Kestrel Road","maxspeed":80,"oneway":true,"x":null,"structures":[{"kind":"bridge","from_m":10,"to_m":20.5},{"kind":"ferry","from_m":1,"to_m":2}]},
  "geometry":{"type":"LineString","coordinates":[[-105.1,39.5,1800],[-105.2,39.6,-1e3],[-105.25,39.65]]}},
 {"type":"Feature","properties":null,"geometry":null},
 {"type":"Feature","properties":{},"geometry":{"coordinates":[[[1,2],[3,4]],[[5,6],[7,8]]],"type":"MultiLineString"}},
 {"type":"Feature","properties":{},"geometry":{"coordinates":[1,2],"type":"Point"}},
 {"type":"Feature","properties":{},"geometry":{"coordinates":[[39,-105],[40,-106]],"type":"LineString"}}
]}`)
	for _, f := range fs {
		t.Logf("%+v", f)
	}
	t.Log(sk, err)
	if err != nil || len(fs) != 3 || len(sk) != 4 {
		t.Fatal("wrong")
	}
}
