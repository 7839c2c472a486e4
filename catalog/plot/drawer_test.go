package plot

import (
	"io"
	"strings"
	"testing"

	"gradeline/catalog"
)

func TestAPlotIsOfTheKindThatItsNameSays(t *testing.T) {
	draw := func(kind string) func(io.Writer, int, catalog.Units) error {
		return func(w io.Writer, v int, u catalog.Units) error {
			_, err := io.WriteString(w, kind+strings.Repeat("!", v)+u.Length(5000))
			return err
		}
	}
	for name, want := range map[string]string{"a.svg": "svg!!", "b.c/A.PNG": "png!!"} {
		var b strings.Builder
		if err := Drawer(name, 2, catalog.US, draw("svg"), draw("png"))(&b); err != nil || b.String() != want+catalog.US.Length(5000) {
			t.Errorf("%s: %s, %v", name, b.String(), err)
		}
	}
	for _, name := range []string{"", "svg", "a.pdf", "a.svg.gz", "png/a"} {
		if Drawer(name, 2, catalog.US, draw("svg"), draw("png")) != nil {
			t.Errorf("%q is drawn", name)
		}
	}
}
