package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// Each wrong value is refused before anything is read or written, in one line that names the flag.
func TestWrongValuesOfFlagsAreNamed(t *testing.T) {
	const survey = "survey --terrain t.tif r.geojson "
	const route = "route --class us-5axle --from 10,46 --to 11,46 "
	for line, parts := range map[string][]string{
		survey + "--workers -1":                         {"--workers -1"},
		survey + "--workers many":                       {"many", "workers"},
		survey + "--memory much":                        {"--memory"},
		survey + "--accuracy 3":                         {"--accuracy", "without a unit"},
		survey + "--min-mean steep":                     {"--min-mean"},
		survey + "--min-length 3":                       {"--min-length", "without a unit"},
		survey + "--cache all":                          {"--cache"},
		survey + "--remote-timeout 0s":                  {"--remote-timeout"},
		survey + "--temperature warm":                   {"--temperature"},
		survey + "--drive-heights satellites":           {"--drive-heights", "barometer"},
		survey + "--roads track-road":                   {"--roads"},
		survey + "--box 1,2,3":                          {"--box"},
		survey + "--shard 9/8":                          {"--shard"},
		route + "--alternatives 11":                     {"--alternatives 11", "0 to 10"},
		route + "--prefer scenery":                      {"--prefer"},
		route + "--mass 40":                             {"--mass", "without a unit"},
		route + "--height 4":                            {"--height", "without a unit"},
		route + "--truck-length 18":                     {"--truck-length", "without a unit"},
		route + "--axle-load 9":                         {"--axle-load", "without a unit"},
		route + "--tailwind strong":                     {"--tailwind"},
		route + "-o way.PDF":                            {"-o way.PDF", "--page way.PDF"},
		route + "--terrain t.tif":                       {"road network"},
		"route --class us-5axle --from 10":              {"--from", "longitude,latitude"},
		"compare --class us-5axle,nix A":                {"no class", "nix"},
		"compare --class us-5axle --plot a.pdf A":       {"--plot a.pdf", ".svg"},
		"list --limit -3":                               {"--limit -3"},
		"list --at-least 3":                             {"--at-least", "without a unit"},
		"overlay avoid --class us-5axle --shape circle": {"--shape", "line or polygon"},
		"overlay avoid --class us-5axle --width 3":      {"--width", "without a unit"},
		"overlay descents --state gone":                 {"--state", "not a review state"},
		"signs --choice plaque":                         {"--choice", "NAME=OPTION"},
		"signs --approach 55":                           {"--approach", "without a unit"},
		"signs --edge 12":                               {"--edge", "without a unit"},
		"signs --milepost 12":                           {"--milepost", "STATION=VALUE"},
		"signs --strip plan.txt":                        {"--strip"},
		"signs template more":                           {"no argument"},
		"signs check":                                   {"needs the TOML file"},
		"signs check rules.txt":                         {".toml"},
		"practice --class us-5axle --days 101":          {"--days 101"},
		"practice --class us-5axle --margin all":        {"--margin"},
		"practice --class us-5axle --traffic many":      {"--traffic"},
		"practice --class us-5axle --paper a5":          {"--paper", "letter or a4"},
		"practice --class us-5axle -o plan.txt":         {"-o plan.txt", ".pdf"},
		"lesson x --class us-5axle --paper a5":          {"--paper", "letter or a4"},
		"sheet x --class us-5axle --paper a5":           {"a5", "letter or a4"},
		"sheet x --class us-5axle -o page.txt":          {"-o page.txt", ".html or .pdf"},
		"sheet --all x":                                 {"--all takes no descents"},
		"sheet --all --class us-5axle":                  {"go into a folder"},
		"sheet --check nothing":                         {"--check", "eight letters"},
		"ramps x --speed 25":                            {"--speed", "without a unit"},
		"ramps x --lead 25":                             {"--lead", "without a unit"},
		"debrief x a.gpx --class us-5axle --pass 0":     {"--pass 0"},
		"debrief x a b --class us-5axle --pass 1":       {"--pass is for one recording"},
		"progress f.json --trainee A --forget -o p.pdf": {"--forget stands alone"},
		"progress f.json --trainee A --note ready":      {"--note belongs to --sign-off"},
		"progress f.json --trainee A --sign-off x --instructor B --on 1.3.26": {"--on", "2026-03-01"},
		"review x":                                {"--state", "--history"},
		"review x --accept --refuse":              {"exclude each other"},
		"review x --state approved":               {"--by"},
		"review --by Ada":                         {"--by needs the id"},
		"sites remove x":                          {"--by"},
		"sites shuffle":                           {"list, import"},
		"drives forget":                           {"forget with the numbers"},
		"drives forget first":                     {"first", "drives list"},
		"drives forget 0":                         {`"0"`, "drives list"},
		"classes list more":                       {"no further argument"},
		"classes check":                           {"needs the TOML file"},
		"work --workers -1 --queue postgres://x/": {"--workers -1"},
		"work --memory much":                      {"--memory"},
		"work --cache all":                        {"--cache"},
		"work":                                    {"PostgreSQL", "--queue"},
		"serve --files roads --addr 127.0.0.1:0":  {"--terrain"},
	} {
		r := gradeline(t, append(strings.Fields(line), "--catalog", filepath.Join(t.TempDir(), "none.gpkg"))...)
		if strings.Contains(r.err, "no flag --catalog") { // a command without one
			r = gradeline(t, strings.Fields(line)...)
		}
		if r.code != exitUsage || r.out != "" {
			t.Errorf("%s: exit code %d, want %d; out %q, err %s", line, r.code, exitUsage, r.out, r.err)
		}
		r.says(t, parts...)
	}
}

// On a catalogue, what a command cannot do is refused with what it could do.
func TestWhatACatalogueLacksIsNamed(t *testing.T) {
	dir := demoDir(t)
	const hill = "veltrane-pass-road-f-4.7"
	for line, parts := range map[string][]string{
		"show " + hill + " --class us-6axle":               {"no answer for class", "us-5axle"},
		"show " + hill + " --plot hill.pdf":                {"hill.pdf", ".svg or .png"},
		"show " + hill + " --heat-plot hill.svg":           {"--class is needed"},
		"sheet " + hill:                                    {"--class with one of", "us-5axle"},
		"sheet --all -o " + filepath.Join(dir, "pages"):    {"--class with one of", "us-5axle"},
		"signs --strip plan.pdf":                           {"--strip draws one descent"},
		"signs " + hill + " --approach 55mph -o posts.txt": {"-o posts.txt", ".geojson"},
		"list --everything -o all.csv":                     {"--everything needs"},
		"list --everything --limit 2 -o all.gpkg":          {"leave --limit out"},
		"show " + hill + " --plot " + dir + "/demo.gpkg":   {".svg or .png"},
		"list -o " + dir + "/demo.gpkg --force":            {"is read by this command"},
		"signs check " + dir + "/demo.gpkg":                {".toml"},
		"compare --class us-5axle " + dir + "/drive.gpx":   {"is a file", "--terrain"},
		"sheet " + hill + " --class us-5axle -o page.docx": {".html or .pdf"},
	} {
		r := gradeline(t, append(strings.Fields(line), "--catalog", filepath.Join(dir, "demo.gpkg"))...)
		if r.code != exitUsage || r.out != "" {
			t.Errorf("%s: exit code %d, want %d; out %.80q, err %s", line, r.code, exitUsage, r.out, r.err)
		}
		r.says(t, parts...)
	}
}
