package vector

import (
	"context"
	"os"
	"path/filepath"
	"testing"
)

// Several files are read one after another; what is no line is named, an error ends the
// reading, and a caller who has enough stops it.
func TestReaderReadsFilesInOrder(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	const line = `{"type":"Feature","properties":{"name":"N"},"geometry":{"type":"LineString","coordinates":[[1,2],[1.1,2]]}}`
	a := write("a.geojson", line+"\n"+`{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}}`)
	b := write("b.geojson", line)
	r := NewReader([]string{a, b}, Options{})
	var files []string
	for f, err := range r.Features(context.Background()) {
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f.Place.File)
	}
	if len(files) != 2 || files[0] != a || files[1] != b || len(r.Skipped()) != 1 {
		t.Errorf("lines of %v, skipped %v", files, r.Skipped())
	}
	count, failed := 0, false
	for _, err := range NewReader([]string{b, filepath.Join(dir, "none.geojson"), a}, Options{}).Features(context.Background()) {
		count++
		failed = err != nil
	}
	if count != 2 || !failed {
		t.Errorf("%d yielded, the last an error: %v", count, failed)
	}
	for range NewReader([]string{a, b}, Options{}).Features(context.Background()) {
		if count++; count > 2 {
			break
		}
	}
	if count != 3 {
		t.Errorf("%d lines after the caller had enough", count-2)
	}
}
