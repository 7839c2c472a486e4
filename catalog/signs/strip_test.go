package signs

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gradeline/catalog"
)

var textRE = regexp.MustCompile(`<text x="([0-9.]+)" y="([0-9.]+)" font-size="([0-9]+)" text-anchor="start"[^>]*>([^<]*)</text>`)

// Whatever the number of classes, every class's speed stands whole on the plan,
// left of its edge and above its foot. A bold letter is on average under 0.62 of
// the font's size wide (Liberation Sans Bold, measured over such text).
func TestPanelWrapsOnTheStripPlan(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	s.Panel = nil
	for i := range 14 {
		s.Panel = append(s.Panel, PanelRow{Class: fmt.Sprint("c", i), Legend: fmt.Sprintf("up to %d,%d00 lb: %d mph", 40+5*i, i%10, 50-i)})
	}
	svg := string(StripPlanSVG(s, catalog.US))
	high, err := strconv.ParseFloat(regexp.MustCompile(`height="([0-9]+)"`).FindStringSubmatch(svg)[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	var bold strings.Builder
	for _, m := range textRE.FindAllStringSubmatch(svg, -1) {
		x, _ := strconv.ParseFloat(m[1], 64)
		y, _ := strconv.ParseFloat(m[2], 64)
		size, _ := strconv.ParseFloat(m[3], 64)
		if y > high-4 {
			t.Errorf("under the foot of the plan: %s", m[4])
		}
		if !strings.Contains(m[0], "bold") {
			continue
		}
		if x+0.62*size*float64(len([]rune(m[4]))) > stripWidth {
			t.Errorf("over the right edge: %s", m[4])
		}
		bold.WriteString(m[4] + " ")
	}
	for _, r := range s.Panel {
		if !strings.Contains(bold.String(), r.Legend) {
			t.Errorf("%q is not on the plan", r.Legend)
		}
	}
	path := filepath.Join(t.TempDir(), "strip.svg")
	if err := os.WriteFile(path, []byte(svg), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("rsvg-convert", path).Output(); err != nil || !strings.HasPrefix(string(out), "\x89PNG") {
		t.Errorf("librsvg (Debian's librsvg2-bin): %v", err)
	}
}
