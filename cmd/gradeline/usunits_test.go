package main

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// metricFigure is a figure in units that a reader of miles and feet should not meet.
var metricFigure = regexp.MustCompile(`[0-9] ?(m|km|km/h|°C|t|kW)\b`)

// A catalogue surveyed in metric units reads in miles, feet and mph throughout.
// Left metric: the source of the data (cell and noise), the constants' and the rule
// set's own words.
func TestAMetricCatalogueReadsInMilesAndFeet(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	gradeline(t, "demo", "-o", dir, "--units", "metric").want(t, exitDone)
	cat := filepath.Join(dir, "demo.gpkg")
	for _, args := range [][]string{
		{"list"}, {"sites", "list"}, {"practice", "--class", "us-5axle"},
		{"show", "old-quendrel-road-b-13.7", "--class", "us-5axle"}, {"show", "old-quendrel-road-f-0.5", "--class", "ca-btrain-63t"},
		{"compare", "Veltrane Pass Road", "Old Quendrel Road", "--class", "us-5axle"},
		{"debrief", "veltrane-pass-road-f-4.7", filepath.Join(dir, "drive.gpx"), "--class", "us-5axle"},
		{"ramps", "veltrane-pass-road-f-4.7", "--rate", "7.41mi, pea gravel, 500ft, 8%"},
		{"signs", "veltrane-pass-road-f-4.7", "--approach", "55mph", "--standing", filepath.Join(dir, "standing.geojson")},
	} {
		r := gradeline(t, append(args, "--catalog", cat, "--units", "us")...).want(t, exitDone)
		for _, line := range strings.Split(strings.ReplaceAll(r.out, "\n    ", " "), "\n") { // lines as before they were wrapped
			if strings.HasPrefix(line, "  Elevation:") || strings.Contains(line, "500 °F (260 °C)") || strings.Contains(line, "Which grade does the sign show?") {
				continue
			}
			line = strings.ReplaceAll(line, "ca-btrain-63t", "a class") // an id, whatever it is named after
			if m := metricFigure.FindString(line); m != "" {
				t.Errorf("%s: %q in %q", args[0], m, line)
			}
		}
	}
}
