package plot

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

var textRE = regexp.MustCompile(`<text x="([0-9.]+)" y="([0-9.]+)" font-size="([0-9]+)" text-anchor="start"[^>]*>([^<]*)</text>`)

// planned is the schedule of signs for the specimen road.
func planned(t *testing.T, ruleSet, name string) signs.Schedule {
	t.Helper()
	rules, err := signs.FindRuleSet(ruleSet)
	if err != nil {
		t.Fatal(err)
	}
	e := specimen.Entry(routes.Forward)
	if name != "" {
		e.Descent.Name = name
	}
	s, err := signs.Plan(signs.Input{Descent: e.Descent, Profile: specimen.Profile(), ApproachSpeedMPS: 55 * catalog.MilePerHourMPS, Holds: e.Holds}, rules)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Whatever the number of classes, every class's speed stands whole on the plan,
// left of its edge and above its foot. A bold letter is on average under 0.62 of
// the font's size wide (Liberation Sans Bold, measured over such text).
func TestPanelWrapsOnTheStripPlan(t *testing.T) {
	s := planned(t, "us-2023", "")
	s.Panel = nil
	for i := range 14 {
		s.Panel = append(s.Panel, signs.PanelRow{Class: fmt.Sprint("c", i), Legend: fmt.Sprintf("up to %d,%d00 lb: %d mph", 40+5*i, i%10, 50-i)})
	}
	svg := string(write(t, func(w io.Writer) error { return StripSVG(w, s, catalog.US) }))
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

// A strip plan is well-formed, the same twice, and shows every sign.
func TestStripPlan(t *testing.T) {
	for _, id := range []string{"us-2023", "uk-2013", "haul-road"} {
		s := planned(t, id, `<Hill & "Dale">`)
		draw := func(w io.Writer) error { return StripSVG(w, s, catalog.Metric) }
		svg := keep(t, "strip-"+id+".svg", draw)
		s = planned(t, id, `<Hill & "Dale">`)
		if !bytes.Equal(svg, write(t, draw)) {
			t.Errorf("%s: two plans differ", id)
		}
		dec := xml.NewDecoder(strings.NewReader(string(svg)))
		texts := map[string]int{}
		for {
			tok, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", id, err)
			}
			if c, ok := tok.(xml.CharData); ok {
				texts[string(c)]++
			}
		}
		for _, p := range s.Placements {
			if texts[fmt.Sprint(p.Number)] < 2 { // on its mark and in the key
				t.Errorf("%s: sign %d is not drawn", id, p.Number)
			}
		}
		if strings.Contains(string(svg), "NaN") || strings.Contains(string(svg), "Inf") {
			t.Errorf("%s: a number that is none", id)
		}
	}
}
