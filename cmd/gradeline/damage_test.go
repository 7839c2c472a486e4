package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog/specimen"
)

var damageAll = flag.Bool("damage.all", false, "every kind of damage, and write catalog/gpkg/DAMAGE-COMMANDS.md anew")

const damageCommandsFile = "../../catalog/gpkg/DAMAGE-COMMANDS.md"

// damageHill is the descent of the damaged catalogue that the commands are asked about.
const damageHill = "middle-road-f-1."

// damageable surveys a small network with its hills, sites, a review, a retired hill and a newer
// survey that waits, and gives the catalogue with two places in the network.
func damageable(t *testing.T) (path, from, to string) {
	t.Helper()
	dem, network, from, to := makeThreeWays(t)
	dir := t.TempDir()
	path = filepath.Join(dir, "c.gpkg")
	gradeline(t, "survey", "--terrain", dem, "--catalog", path, "--fleet", "us-5axle,ca-btrain-63t", network).want(t, exitDone)
	places := filepath.Join(dir, "places.geojson")
	var features []string
	for kind, x := range map[string]float64{"brake-check": 1200, "escape-ramp": 4000, "sign": 900} {
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"kind":%q,"name":"Place of %s","designation":"W7-1a"},"geometry":{"type":"Point","coordinates":[%.7f,%.7f]}}`, kind, kind, hillLonDeg+x/degreeM(), hillLatDeg))
	}
	slices.Sort(features)
	if err := os.WriteFile(places, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`), 0o644); err != nil {
		t.Fatal(err)
	}
	gradeline(t, "sites", "import", places, "--catalog", path, "--by", "Ada").want(t, exitDone)
	gradeline(t, "review", damageHill, "--state", "approved", "--by", "Ada", "--note", "seen", "--measured", "5%", "--catalog", path).want(t, exitDone)
	gradeline(t, "review", "south-road-f-8.4", "--state", "retired", "--by", "Ada", "--note", "closed to trucks", "--catalog", path).want(t, exitDone)
	return path, from, to
}

// damagedCommands are the commands whose answers a driver, a trainer, a planner or a sign office
// acts on.
func damagedCommands(from, to string) map[string][]string {
	return map[string][]string{
		"list": {"list"}, "list --json": {"list", "--json"}, "show": {"show", damageHill, "--class", "us-5axle"},
		"sheet": {"sheet", damageHill, "--class", "us-5axle"}, "report": {"report"},
		"practice": {"practice", "--class", "us-5axle", "--near", "Place of brake-check"}, "signs": {"signs", damageHill, "--approach", "55mph"},
		"ramps": {"ramps", damageHill}, "sites list": {"sites", "list"}, "review (queue)": {"review"},
		"overlay avoid": {"overlay", "avoid", "--class", "ca-btrain-63t"}, "overlay edges": {"overlay", "edges", "--class", "us-5axle"},
		"route": {"route", "--class", "us-5axle", "--from", from, "--to", to}, "compare": {"compare", "--class", "us-5axle", "Middle Road", "South Road"},
	}
}

// rootsOf lists the tables and indexes of a file.
func rootsOf(t *testing.T, path string) (roots []specimen.Root) {
	t.Helper()
	out, err := exec.Command("/usr/bin/python3", "-c", `import sqlite3, sys, json
c = sqlite3.connect(sys.argv[1])
print(json.dumps([{"Name": n, "IsIndex": t == "index", "Page": p} for n, t, p in c.execute("SELECT name, type, rootpage FROM sqlite_master WHERE rootpage > 0")]))`, path).Output()
	if err == nil {
		err = json.Unmarshal(out, &roots)
	}
	if err != nil {
		t.Fatal(err)
	}
	return roots
}

// No damage makes a command give other advice, another route, page or sign than the sound
// file, or less of it: the answer is the same to the letter, or exit code 1 with the
// file's name and no answer. A run without -damage.all takes every nineteenth kind of damage.
func TestDamageAndTheCommands(t *testing.T) {
	if testing.Short() {
		t.Skip("half a minute")
	}
	path, from, to := damageable(t)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	commands := damagedCommands(from, to)
	names := make([]string, 0, len(commands))
	for name := range commands {
		names = append(names, name)
	}
	slices.Sort(names)
	target := filepath.Join(t.TempDir(), "damaged.gpkg")
	ask := func(name string) result {
		return gradeline(t, append(slices.Clone(commands[name]), "--catalog", target)...)
	}
	if err := os.WriteFile(target, whole, 0o644); err != nil {
		t.Fatal(err)
	}
	sound := map[string]result{}
	for _, name := range names {
		if sound[name] = ask(name); sound[name].code != exitDone && sound[name].code != exitGaps || len(sound[name].out) < 80 {
			t.Fatalf("%s of the sound file: exit code %d\n%s\n%s", name, sound[name].code, sound[name].out, sound[name].err)
		}
	}
	kinds := specimen.Damages(whole, rootsOf(t, path), map[string][]byte{
		"a letter of advice in words": []byte("Before the crest"), "a letter of a review's note": []byte("Zclosed to trucks"), "a letter of a site's name": []byte("Place of escape-ramp"),
	})
	table := map[string]string{}
	text := fmt.Sprintf(damageCommandsIntro, len(kinds)) + "| damage | " + strings.Join(names, " | ") + " |\n" + strings.Repeat("|---", len(names)+1) + "|\n"
	for k, d := range kinds {
		if !*damageAll && k%19 != 4 {
			continue
		}
		for _, end := range []string{"", "-journal", "-wal", "-shm"} {
			os.Remove(target + end)
		}
		if err := os.WriteFile(target, d.Do(slices.Clone(whole)), 0o644); err != nil {
			t.Fatal(err)
		}
		row := "| " + d.What
		for _, name := range names {
			r, verdict := ask(name), "right"
			switch {
			case r == sound[name]:
			case r.code == exitFailed && strings.Contains(r.err, target) && (r.out == "" || name == "list --json" && !json.Valid([]byte(r.out))):
				verdict = "refused"
			case name == "route" && r.code == exitGaps && (strings.Contains(r.out, "Nothing to list") || strings.Contains(r.out, "Refused: the way that would be best without hills")) && strings.Contains(r.err, target) && strings.Contains(r.err, "damaged"):
				verdict = "unknown"
			default:
				verdict = "OTHER"
				t.Errorf("%s: %s: exit code %d\n%.600s\n%.600s", d.What, name, r.code, r.out, r.err)
			}
			row += " | " + verdict
		}
		table[d.What] = row + " |\n"
		text += row + " |\n"
	}
	if *damageAll {
		if err := os.WriteFile(damageCommandsFile, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	kept, err := os.ReadFile(damageCommandsFile)
	if err != nil {
		t.Fatal(err)
	}
	for what := range table { // which of right and refused may depend on the pages' order
		if !strings.Contains(string(kept), "| "+what+" |") {
			t.Errorf("%s is not in %s: run this test with -damage.all", what, damageCommandsFile)
		}
	}
}

const damageCommandsIntro = `# What each command answers to a damaged catalogue

Made by ` + "`go test ./cmd/gradeline -run TestDamageAndTheCommands -args -damage.all`" + `, which fails where an answer differs from that for the sound file. %d kinds of damage to a catalogue of an invented network with hills, sites, reviews and its search graph. *Right*: the answer for the sound file, to the letter. *Refused*: exit code 1, a message that names the file, and no answer (` + "`list --json`" + ` may end in the middle, and is then no JSON). *Unknown*: no way is listed, or another one after the best, which is named as not known; the damaged road is named, exit code 3. What the library's own functions answer is in [DAMAGE.md](DAMAGE.md).

`
