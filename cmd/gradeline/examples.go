package main

import (
	"gradeline/cmd/commandline"
	"strings"
)

// examples by command: two or more for each. Each runs unchanged in the folder of gradeline demo; a
// test runs them all.
var examples = map[string][]commandline.Example{
	"survey": {
		{What: "find the descents of these roads, work out the advice for every class, store both in a catalogue", Line: "gradeline survey --terrain terrain.tif --catalog mine.gpkg --units us routes.geojson"},
		{What: "for a cold and windy season", Line: "gradeline survey --terrain terrain.tif --temperature=-20C..15C --tailwind 10m/s --catalog winter.gpkg --units us routes.geojson"},
		{What: "only for the trucks of your fleet", Line: "gradeline survey --terrain terrain.tif --fleet us-5axle,us-5axle-60k --catalog mine.gpkg --units us routes.geojson"},
		{What: "for heights whose unit the raster does not state, with the grade lines as CSV", Line: "gradeline survey --terrain terrain.tif --vertical-unit m --catalog mine.gpkg --profile grade.csv routes.geojson"},
		{What: "the first half of a large network; another machine surveys 2/2, and merge joins the parts", Line: "gradeline survey --terrain terrain.tif --shard 1/2 --catalog part1.gpkg routes.geojson"},
	},
	"work": {
		{What: "queue a survey in a database, then take part in it until it is done; start the second command on as many machines as there are", Line: "gradeline survey --spread --terrain terrain.tif --catalog mine.gpkg --queue postgres://office@db/hills routes.geojson && gradeline work --until-empty --queue postgres://office@db/hills"},
		{What: "what the database's owner grants a user of workers", Line: "gradeline work --grants survey_worker"},
	},
	"list": {
		{What: "every descent, most dangerous first, in miles and feet", Line: "gradeline list --units us --catalog demo.gpkg"},
		{What: "a workbook for the office", Line: "gradeline list -o hills.xlsx --units us --catalog demo.gpkg"},
		{What: "a plain text to paste into a mail, for one class", Line: "gradeline list --class us-5axle -o mail.txt --units us --catalog demo.gpkg"},
		{What: "one road, with reviews, profiles and history, as a catalogue of its own", Line: "gradeline list --route \"Veltrane Pass Road\" -o pass.gpkg --catalog demo.gpkg"},
	},
	"serve": {
		{What: "the office's page; open the printed address in a browser, end it with Ctrl-C", Line: "gradeline serve --catalog demo.gpkg"},
		{What: "with the terrain's hills under the map, in miles and feet, on a port that is free", Line: "gradeline serve --terrain terrain.tif --addr 127.0.0.1:0 --units us --catalog demo.gpkg"},
	},
	"show": {
		{What: "one descent: its figures, and the reasons for the advice for one class", Line: "gradeline show veltrane-pass-road-f-4.7 --class us-5axle --units us --catalog demo.gpkg"},
		{What: "draw its profile, and the demand with the power that each gear holds", Line: "gradeline show veltrane-pass-road-f-4.7 --class us-5axle --plot hill.svg --holding-plot gears.png --catalog demo.gpkg"},
	},
	"hold": {
		{What: "a plain grade: which gear and speed hold it", Line: "gradeline hold --grade 8% --length 6mi --class us-5axle --units us"},
		{What: "a given mass and a posted limit, as JSON", Line: "gradeline hold --grade 6% --length 9.6km --class eu-5axle --mass 38t --posted 60km/h --json"},
	},
	"overlay": {
		{What: "the descents, for any map", Line: "gradeline overlay descents -o hills.geojson --catalog demo.gpkg"},
		{What: "polygons that a routing engine avoids for this class", Line: "gradeline overlay avoid --class ca-btrain-63t -o keep-off.geojson --catalog demo.gpkg"},
		{What: "the same as lines, each closing one direction", Line: "gradeline overlay avoid --class ca-btrain-63t --shape line -o keep-off-lines.geojson --catalog demo.gpkg"},
	},
	"sheet": {
		{What: "the driver's page in miles and feet, Letter paper", Line: "gradeline sheet veltrane-pass-road-f-4.7 --class us-5axle --units us -o page.pdf --catalog demo.gpkg"},
		{What: "for a morning of 5 to 20 °C without wind from behind", Line: "gradeline sheet veltrane-pass-road-f-4.7 --class us-5axle --temperature 5C..20C --tailwind 0mph -o cool.pdf --catalog demo.gpkg"},
		{What: "the same for a European truck on A4, to open in a browser", Line: "gradeline sheet veltrane-pass-road-f-4.7 --class eu-5axle --paper a4 --toward Veltrane -o page.html --catalog demo.gpkg"},
		{What: "a page for every hill, into a folder", Line: "gradeline sheet --all --class us-5axle --units us -o pages --catalog demo.gpkg"},
	},
	"lesson": {
		{What: "a lesson about this hill and this truck, to print", Line: "gradeline lesson veltrane-pass-road-f-4.7 --class us-5axle -o lesson.pdf --catalog demo.gpkg"},
		{What: "the same for a European truck with disc brakes, to open in a browser", Line: "gradeline lesson veltrane-pass-road-f-4.7 --class eu-5axle --paper a4 -o lesson.html --catalog demo.gpkg"},
	},
	"review": {
		{What: "descents that need a review, most urgent first", Line: "gradeline review --catalog demo.gpkg"},
		{What: "record that a person drove it and measured the grade", Line: "gradeline review veltrane-pass-road-f-4.7 --state field-checked --by \"A. Novak\" --measured 6.1% --catalog demo.gpkg"},
	},
	"compare": {
		{What: "all classes of the fleet in one table, with a map and the profiles", Line: "gradeline compare --class all --plot compared.html --catalog demo.gpkg \"Veltrane Pass Road\" \"Old Quendrel Road\""},
		{What: "roads of the catalogue, for the class at its heaviest", Line: "gradeline compare --class us-5axle --units us --catalog demo.gpkg \"Veltrane Pass Road\" \"Old Quendrel Road\""},
		{What: "roads from a file, for a load lighter than the class's heaviest", Line: "gradeline compare --class us-5axle --mass 72000lb --units us --terrain terrain.tif routes.geojson"},
	},
	"route": {
		{What: "a way from one place to another that this truck can hold on a day of up to 20 °C, and the hills on it", Line: "gradeline route --class us-5axle --temperature 20C --from -40.0785,42.0369 --to -39.9445,42.0269 --terrain terrain.tif --units us routes.geojson"},
		{What: "the opposite direction, with the largest retarder reserve, for the navigation device", Line: "gradeline route --class us-5axle --from -39.9445,42.0269 --to -40.0785,42.0369 --prefer margin --terrain terrain.tif -o way.gpx routes.geojson"},
	},
	"practice": {
		{What: "practice grades for a training truck, easiest first", Line: "gradeline practice --class us-5axle --units us --catalog demo.gpkg"},
		{What: "only those near a place, with a larger retarder reserve", Line: "gradeline practice --class us-5axle --near \"Veltrane summit\" --within 6km --margin 25% --catalog demo.gpkg"},
		{What: "a plan over two days to hand out, with a sheet for each step", Line: "gradeline practice --class us-5axle --days 2 --catalog demo.gpkg -o plan.pdf"},
	},
	"debrief": {
		{What: "what a recorded drive shows: speeds, the crest, the service brakes", Line: "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --units us --catalog demo.gpkg"},
		{What: "the same for a lighter load, with a drawing over the profile", Line: "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --mass 32t --plot drive.png --catalog demo.gpkg"},
		{What: "two drives side by side: what has improved (sed stands for the next day's drive)", Line: "sed 's/2026-05-04T/2026-05-05T/' drive.gpx > later.gpx && gradeline debrief veltrane-pass-road-f-4.7 drive.gpx later.gpx --class us-5axle --mass 32t --plot both.svg --catalog demo.gpkg"},
	},
	"progress": {
		{What: "keep a drive of a trainee, then see where each trainee stands", Line: "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --progress trainees.json --trainee \"T. Example\" --catalog demo.gpkg && gradeline progress trainees.json"},
		{What: "sign a hill off, with a page to hand out", Line: "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --progress signed.json --trainee \"T. Example\" --catalog demo.gpkg && gradeline progress signed.json --trainee \"T. Example\" --sign-off veltrane-pass-road-f-4.7 --instructor \"I. Example\" -o progress.pdf"},
		{What: "remove a trainee without a trace", Line: "gradeline debrief veltrane-pass-road-f-4.7 drive.gpx --class us-5axle --progress gone.json --trainee \"T. Example\" --catalog demo.gpkg && gradeline progress gone.json --trainee \"T. Example\" --forget"},
	},
	"report": {
		{What: "one page with map, profiles and tables, to open offline", Line: "gradeline report --terrain terrain.tif -o hills.html --units us --catalog demo.gpkg"},
		{What: "one road, with the plan sheets of the signs that it warrants", Line: "gradeline report --terrain terrain.tif --route \"Veltrane Pass Road\" --signs --approach 55mph -o pass.html --catalog demo.gpkg"},
	},
	"signs": {
		{What: "the signs that a descent warrants, by station", Line: "gradeline signs veltrane-pass-road-f-4.7 --approach 55mph --units us --catalog demo.gpkg"},
		{What: "plan sheets for a contractor with mileposts, and the schedule as a workbook", Line: "gradeline signs veltrane-pass-road-f-4.7 --approach 55mph --strip plan.pdf --milepost 0=134.2 -o schedule.xlsx --units us --catalog demo.gpkg"},
		{What: "an audit of the existing signs, as JSON", Line: "gradeline signs veltrane-pass-road-f-4.7 --approach 55mph --standing standing.geojson --json --catalog demo.gpkg"},
	},
	"sites": {
		{What: "put brake check areas, ramps and pullouts into the catalogue", Line: "gradeline sites import sites.geojson --by \"A. Novak\" --catalog demo.gpkg"},
		{What: "those along one road", Line: "gradeline sites list --route \"Veltrane Pass Road\" --units us --catalog demo.gpkg"},
		{What: "remove one that no longer exists", Line: "cp demo.gpkg mine.gpkg && gradeline sites remove pullout-veltrane-pass-road-14.6 --by \"A. Novak\" --why \"built over\" --catalog mine.gpkg"},
	},
	"drives": {
		{What: "keep recorded drives, whose heights make the grade lines better; not who drove or when", Line: "cp demo.gpkg mine.gpkg && gradeline drives import drive.gpx --drive-heights barometer --by \"A. Novak\" --catalog mine.gpkg"},
		{What: "those that the catalogue keeps; forget takes their numbers", Line: "gradeline drives list --units us --catalog demo.gpkg"},
	},
	"ramps": {
		{What: "where an escape ramp would still help, and how long it must be", Line: "gradeline ramps veltrane-pass-road-f-4.7 --units us --catalog demo.gpkg"},
		{What: "rate the existing ramp for a heavier runaway", Line: "gradeline ramps veltrane-pass-road-f-4.7 --mass 63.5t --speed 40km/h --rate \"11922m, pea gravel, 150m, 8%\" --catalog demo.gpkg"},
	},
	"merge": {
		{What: "what a merge with another office's catalogue would change; nothing is written (cp stands for the other office)", Line: "cp demo.gpkg west.gpkg && gradeline merge west.gpkg --catalog demo.gpkg --dry-run"},
		{What: "merge it", Line: "cp demo.gpkg west.gpkg && gradeline merge west.gpkg --catalog demo.gpkg --by \"A. Novak\""},
	},
	"classes": {
		{What: "the weight classes and their trucks", Line: "gradeline classes list --units us"},
		{What: "choose the classes of your fleet, which list, show, report and the next survey then use", Line: "gradeline classes fleet us-5axle,us-dump-3axle --catalog demo.gpkg --by Ada"},
		{What: "describe your own trucks, then check the file", Line: "gradeline classes template > trucks.toml && gradeline classes check trucks.toml"},
	},
	"demo": {
		{What: "the complete job on an invented example, in gradeline-demo", Line: "gradeline demo"},
		{What: "in miles and feet, into a folder of your choice", Line: "gradeline demo --units us -o somewhere"},
	},
	"doctor": {
		{What: "the libraries of this program, and whether a catalogue is sound", Line: "gradeline doctor --catalog demo.gpkg"},
		{What: "the same as JSON", Line: "gradeline doctor --catalog demo.gpkg --json"},
		{What: "repair what can be repaired (cp keeps the demo unchanged)", Line: "cp demo.gpkg mine.gpkg && gradeline doctor --repair --by \"A. Novak\" --catalog mine.gpkg"},
	},
	"completion": {
		{What: "in this bash, now; put the line into ~/.bashrc to keep it", Line: "source <(gradeline completion bash)"},
		{What: "for zsh, into a folder of its fpath", Line: "gradeline completion zsh > _gradeline"},
	},
	"manual": {
		{What: "read it", Line: "gradeline manual | man -l -"},
		{What: "keep it where man looks", Line: "gradeline manual > gradeline.1"},
	},
}

// usageText is a command's examples, a line each.
func usageText(command string) string {
	var lines []string
	for _, x := range examples[command] {
		lines = append(lines, x.Line)
	}
	return strings.Join(lines, "\n")
}
