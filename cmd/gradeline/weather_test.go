package main

import (
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
)

// holdOf is the hold of a class on the first descent of an answer.
func holdOf(t *testing.T, descent map[string]any, class string) map[string]any {
	t.Helper()
	for _, h := range descent["holds"].([]any) {
		if h := h.(map[string]any); h["class"] == class {
			return h
		}
	}
	t.Fatalf("no hold of class %s", class)
	return nil
}

func mustBeFor(t *testing.T, what string, hold map[string]any, coldestC, hottestC, tailwindMPS float64) {
	t.Helper()
	w, ok := hold["weather"].(map[string]any)
	if !ok {
		t.Fatalf("%s: no weather: %v", what, hold["weather"])
	}
	for key, want := range map[string]float64{"coldest_c": coldestC, "hottest_c": hottestC, "tailwind_mps": tailwindMPS} {
		if got := number(t, w, key); math.Abs(got-want) > 0.01 {
			t.Errorf("%s: %s is %g, not %g", what, key, got, want)
		}
	}
}

// A survey's advice is for the weather that was asked for. It is stored and printed with it, a
// recomputation uses it, and an approval of advice for other weather comes into question.
func TestAdviceIsForAWeather(t *testing.T) {
	const class = "us-5axle"
	h := makeHill(t, 6, nil)
	usual := first(t, h.survey(t, exitDone), "descents")
	id := usual["id"].(string)
	mustBeFor(t, "usual", holdOf(t, usual, class), 0, 40, 5)
	gradeline(t, "review", id, "--catalog", h.path("c.gpkg"), "--state", "approved", "--by", "R. Vane").want(t, exitDone)

	hot := first(t, h.survey(t, exitGaps, "--temperature", "-15C..50C", "--tailwind", "10m/s"), "descents")
	mustBeFor(t, "hot", holdOf(t, hot, class), -15, 50, 10)
	if a, b := number(t, holdOf(t, usual, class), "heaviest_mass_kg"), number(t, holdOf(t, hot, class), "heaviest_mass_kg"); !(b < 0.98*a) {
		t.Errorf("a hotter and windier season holds %.0f kg, before %.0f kg", b, a)
	}
	cat := []string{"--catalog", h.path("c.gpkg")}
	stored := func(args ...string) string {
		return strings.Join(strings.Fields(gradeline(t, append(args, cat...)...).want(t, exitDone).out), " ")
	}
	for _, c := range [][]string{{"show", id}, {"list"}} {
		if text := stored(c...); !strings.Contains(text, "air of −15 to 50 °C, wind from behind up to 36 km/h") {
			t.Errorf("%v does not say for which weather: %.900s", c, text)
		}
	}
	if text := stored("show", id); !strings.Contains(text, "IN QUESTION") || !strings.Contains(text, "the advice is now for air of −15 to 50 °C") || !strings.Contains(text, "before for air of 0 to 40 °C") {
		t.Errorf("the approval is not in question: %.900s", text)
	}
	slowest := func(more ...string) float64 {
		a := parse(t, gradeline(t, append(append([]string{"compare", "Test Road", "--class", "eu-6axle-44t", "--json"}, more...), cat...)...).want(t, exitGaps)) // in question
		return number(t, first(t, a, "routes"), "slowest_speed_mps")
	}
	// 40 km/h is what the hot and windy survey stored, 55 km/h what the usual one did.
	if atAnotherMass, mild := slowest("--mass", "43.9t"), slowest("--temperature", "40C"); atAnotherMass > 12 || mild < 15 {
		t.Errorf("at another mass %.1f m/s, in the usual weather %.1f m/s", atAnotherMass, mild)
	}
}

var stamped = regexp.MustCompile(`Page ([0-9A-Z]{4}-[0-9A-Z]{4}), survey of[^<]* gradeline sheet --check ([^<]*)<`)

// A page for the weather of a day is worked out again, says so, and has a fingerprint of its own
// that is current for that weather alone.
func TestSheetForTheWeatherOfADay(t *testing.T) {
	h := makeHill(t, 6, nil)
	id := first(t, h.survey(t, exitDone, "--temperature", "50C"), "descents")["id"].(string)
	cat := []string{"--catalog", h.path("c.gpkg")}
	page := func(more ...string) (text, mark, check string) {
		file := h.path("page.html")
		gradeline(t, append(append([]string{"sheet", id, "--class", "us-5axle", "-o", file, "--force"}, cat...), more...)...).want(t, exitDone)
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		found := stamped.FindSubmatch(b)
		if found == nil {
			t.Fatal("the page has no fingerprint")
		}
		return strings.Join(strings.Fields(string(b)), " "), string(found[1]), string(found[2])
	}
	gradeline(t, append([]string{"review", id, "--state", "approved", "--by", "R. Vane"}, cat...)...).want(t, exitDone)
	storedText, storedMark, _ := page()
	dayText, dayMark, check := page("--temperature", "10C..20C", "--tailwind", "0m/s")
	if !strings.Contains(storedText, "(0 to 50 °C)") || strings.Contains(storedText, "ONE DAY") || !strings.Contains(storedText, "APPROVED by R. Vane") {
		t.Errorf("the stored page: %.1500s", storedText)
	}
	for _, want := range []string{"FOR THE WEATHER OF ONE DAY: air of 50 to 68 °F (10 to 20 °C), no wind from behind", "NOT APPROVED FOR THIS WEATHER"} {
		if !strings.Contains(dayText, want) {
			t.Errorf("the page of a day lacks %q: %.1500s", want, dayText)
		}
	}
	if storedMark == dayMark || !strings.Contains(check, "--temperature 10C..20C --tailwind 0m/s") {
		t.Errorf("fingerprints %s and %s, check %q", storedMark, dayMark, check)
	}
	gradeline(t, append(append([]string{"sheet", "--check"}, strings.Fields(check)...), cat...)...).want(t, exitDone)
	gradeline(t, append([]string{"sheet", "--check", storedMark}, cat...)...).want(t, exitDone)
	gradeline(t, append([]string{"sheet", "--check", dayMark}, cat...)...).want(t, exitFailed).says(t, "NOT CURRENT", "--temperature")
	gradeline(t, append([]string{"sheet", "--check", dayMark, "--temperature", "10C..21C", "--tailwind", "0m/s"}, cat...)...).want(t, exitFailed)

	bad := func(temperature string, parts ...string) {
		t.Helper()
		gradeline(t, append([]string{"sheet", id, "--class", "us-5axle", "-o", h.path("bad.html"), "--temperature", temperature}, cat...)...).want(t, exitUsage).says(t, parts...)
	}
	bad("35", "with its unit", "-10C..35C")
	bad("35C..10C", "the first temperature is the higher")
	bad("70C", "air at 0 to 70 °C", "-50 to 60")
	if _, err := os.Stat(h.path("bad.html")); err == nil {
		t.Error("a page was written")
	}
}
