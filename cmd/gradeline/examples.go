package main

import "strings"

// example is a worked command line and what it is for. Each runs as it stands in
// the folder that gradeline demo leaves; a test runs them all.
type example struct{ what, line string }

// examples by command: two or more for each.
var examples = map[string][]example{
	"survey": {
		{"find the descents of these roads, take advice for every class, keep it in a catalogue", "gradeline survey --terrain terrain.tif --catalog mine.gpkg --units us routes.geojson"},
		{"the same for heights whose unit the raster does not say, with the grade lines as CSV", "gradeline survey --terrain terrain.tif --vertical-unit m --catalog mine.gpkg --profile grade.csv routes.geojson"},
		{"the first half of a large network; another machine takes 2/2, and merge brings the parts together", "gradeline survey --terrain terrain.tif --shard 1/2 --catalog part1.gpkg routes.geojson"},
	},
	"list": {
		{"every descent, most dangerous first, in miles and feet", "gradeline list --units us --catalog demo.gpkg"},
		{"a workbook for the office", "gradeline list -o hills.xlsx --units us --catalog demo.gpkg"},
		{"a plain text to paste into a mail, for one class", "gradeline list --class us-5axle -o mail.txt --units us --catalog demo.gpkg"},
		{"one road, with reviews, profiles and history, as a catalogue of its own", "gradeline list --route \"Veltrane Pass Road\" -o pass.gpkg --catalog demo.gpkg"},
	},
	"show": {
		{"one descent: figures, and what stands behind the advice for one class", "gradeline show veltrane-pass-road-f-4.7 --class us-5axle --units us --catalog demo.gpkg"},
		{"draw its profile, and demand against what each gear holds", "gradeline show veltrane-pass-road-f-4.7 --class us-5axle --plot hill.svg --holding-plot gears.png --catalog demo.gpkg"},
	},
	"hold": {
		{"a plain grade: which gear and speed hold it", "gradeline hold --grade 8% --length 6mi --class us-5axle --units us"},
		{"a given mass and a posted limit, as JSON", "gradeline hold --grade 6% --length 9.6km --class eu-5axle --mass 38t --posted 60km/h --json"},
	},
	"overlay": {
		{"the descents, for any map", "gradeline overlay descents -o hills.geojson --catalog demo.gpkg"},
		{"polygons that a routing engine keeps this class off", "gradeline overlay avoid --class ca-btrain-63t -o keep-off.geojson --catalog demo.gpkg"},
		{"the same as lines, each closing one direction", "gradeline overlay avoid --class ca-btrain-63t --shape line -o keep-off-lines.geojson --catalog demo.gpkg"},
	},
	"sheet": {
		{"the driver's page in miles and feet, Letter paper", "gradeline sheet veltrane-pass-road-f-4.7 --class us-5axle --units us -o page.pdf --catalog demo.gpkg"},
		{"the same for a European truck on A4, to open in a browser", "gradeline sheet veltrane-pass-road-f-4.7 --class eu-5axle --paper a4 --toward Veltrane -o page.html --catalog demo.gpkg"},
		{"a page for every hill, into a folder", "gradeline sheet --all --class us-5axle --units us -o pages --catalog demo.gpkg"},
	},
	"review": {
		{"what needs a look, most urgent first", "gradeline review --catalog demo.gpkg"},
		{"record that somebody drove it and measured the grade", "gradeline review veltrane-pass-road-f-4.7 --state field-checked --by \"A. Novak\" --measured 6.1% --catalog demo.gpkg"},
	},
	"compare": {
		{"roads of the catalogue, for the class at its heaviest", "gradeline compare --class us-5axle --units us --catalog demo.gpkg \"Veltrane Pass Road\" \"Old Quendrel Road\""},
		{"roads from a file, for a load lighter than the class's heaviest", "gradeline compare --class us-5axle --mass 72000lb --units us --terrain terrain.tif routes.geojson"},
	},
	"route": {
		{"a way from one place to another that this truck can hold, and the hills on it", "gradeline route --class us-5axle --from -40.0785,42.0369 --to -39.9445,42.0269 --terrain terrain.tif --units us routes.geojson"},
		{"the other way round, with the most of the retarder in hand, for the navigation device", "gradeline route --class us-5axle --from -39.9445,42.0269 --to -40.0785,42.0369 --prefer margin --terrain terrain.tif -o way.gpx routes.geojson"},
	},
	"practice": {
		{"practice grades for a training truck, easiest first", "gradeline practice --class us-5axle --units us --catalog demo.gpkg"},
		{"only those near a place, with more of the retarder in hand", "gradeline practice --class us-5axle --near -39.96,42.0 --within 6km --margin 25% --catalog demo.gpkg"},
	},
	"debrief": {
		{"what a recorded drive tells: speeds, the crest, the service brakes", "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --units us --catalog demo.gpkg"},
		{"the same for a lighter load, with a drawing over the profile", "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --mass 32t --plot drive.png --catalog demo.gpkg"},
	},
	"report": {
		{"one page with map, profiles and tables, to open offline", "gradeline report --terrain terrain.tif -o hills.html --units us --catalog demo.gpkg"},
		{"one road, with the strip plan of the signs that it warrants", "gradeline report --terrain terrain.tif --route \"Veltrane Pass Road\" --signs --approach 55mph -o pass.html --catalog demo.gpkg"},
	},
	"signs": {
		{"the signs that a descent warrants, by station", "gradeline signs veltrane-pass-road-f-4.7 --approach 55mph --units us --catalog demo.gpkg"},
		{"the strip plan as a drawing, and the schedule as a workbook", "gradeline signs veltrane-pass-road-f-4.7 --approach 55mph --strip plan.svg -o schedule.xlsx --units us --catalog demo.gpkg"},
		{"an audit of the signs that stand, as JSON", "gradeline signs veltrane-pass-road-f-4.7 --approach 55mph --standing standing.geojson --json --catalog demo.gpkg"},
	},
	"sites": {
		{"put brake check areas, ramps and pullouts into the catalogue", "gradeline sites import sites.geojson --by \"A. Novak\" --catalog demo.gpkg"},
		{"those beside one road", "gradeline sites list --route \"Veltrane Pass Road\" --units us --catalog demo.gpkg"},
		{"take one out that is gone", "cp demo.gpkg mine.gpkg && gradeline sites remove pullout-veltrane-pass-road-14.6 --by \"A. Novak\" --why \"built over\" --catalog mine.gpkg"},
	},
	"ramps": {
		{"where an escape ramp would still help, and how long it must be", "gradeline ramps veltrane-pass-road-f-4.7 --units us --catalog demo.gpkg"},
		{"rate the ramp that is there for a heavier runaway", "gradeline ramps veltrane-pass-road-f-4.7 --mass 63.5t --speed 40km/h --rate \"11922m, pea gravel, 150m, 8%\" --catalog demo.gpkg"},
	},
	"merge": {
		{"what another office's catalogue would bring, nothing written (cp stands in for the other office)", "cp demo.gpkg west.gpkg && gradeline merge west.gpkg --catalog demo.gpkg --dry-run"},
		{"bring it in", "cp demo.gpkg west.gpkg && gradeline merge west.gpkg --catalog demo.gpkg --by \"A. Novak\""},
	},
	"classes": {
		{"the weight classes and their trucks", "gradeline classes list --units us"},
		{"describe your own trucks, then check the file", "gradeline classes template > trucks.toml && gradeline classes check trucks.toml"},
	},
	"demo": {
		{"the whole job on an invented example, in gradeline-demo", "gradeline demo"},
		{"in miles and feet, into a folder of your choice", "gradeline demo --units us -o somewhere"},
	},
	"doctor": {
		{"what this program is built from, and whether a catalogue is sound", "gradeline doctor --catalog demo.gpkg"},
		{"the same as JSON", "gradeline doctor --catalog demo.gpkg --json"},
		{"put right what can be (cp keeps the demo as it is)", "cp demo.gpkg mine.gpkg && gradeline doctor --repair --by \"A. Novak\" --catalog mine.gpkg"},
	},
	"completion": {
		{"in this bash, now; put the line into ~/.bashrc to keep it", "source <(gradeline completion bash)"},
		{"for zsh, into a folder of its fpath", "gradeline completion zsh > _gradeline"},
	},
	"manual": {
		{"read it", "gradeline manual | man -l -"},
		{"keep it where man looks", "gradeline manual > gradeline.1"},
	},
}

// usageText is a command's examples, a line each.
func usageText(command string) string {
	var lines []string
	for _, x := range examples[command] {
		lines = append(lines, x.line)
	}
	return strings.Join(lines, "\n")
}
