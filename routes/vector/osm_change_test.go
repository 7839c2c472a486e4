package vector

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/routes"
	"gradeline/terrain"
)

// A list of changes is no extract: a road that it deletes would count as one. The files are those of
// paulmach/osm's test data, an OsmChange of a minute and a difference from the Overpass API.
func TestChangesAreNoExtract(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/paulmach/osm").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"minute_871.osc", "annotated_diff.xml"} {
		path := filepath.Join(strings.TrimSpace(string(out)), "testdata", name)
		if _, err := os.Stat(path); err != nil {
			t.Fatal(err)
		}
		_, err := Read(context.Background(), path, Options{}, func(f routes.Feature) error {
			t.Errorf("%s: read %v", name, f.Tags)
			return nil
		})
		if !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), "lists changes") || !strings.Contains(err.Error(), "apply the changes") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
