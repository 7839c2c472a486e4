package survey_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/routes"
	"gradeline/terrain/synth"
)

// findings counts what drives say of descents whose truth is known.
type findings struct {
	descents, contradicted           int
	lines, falseLines                int
	structures, falseStructures      int
	signs, falseSigns, wrongSigns    int
	foundSigns, shifted, foundShifts int
}

// BenchmarkDriveFindings counts true and false findings of three drives on drawn roads, and how many
// lines beside the road and wrong signs are found:
// go test ./catalog/survey -run '^$' -bench DriveFindings -benchtime 1x -args -accuracy.drives=12 -accuracy.drives.set=holdout
func BenchmarkDriveFindings(b *testing.B) {
	var f findings
	for _, o := range driveOptions(b) {
		f.add(b, o, 0)
		f.add(b, o, 20)
	}
	fmt.Printf("of %d descents %d contradicted; lines %d, of them false %d; structures %d, false %d; true signs %d, false findings %d; wrong signs %d, found %d; lines shifted by 20 m %d, found %d\n",
		f.descents, f.contradicted, f.lines, f.falseLines, f.structures, f.falseStructures, f.signs, f.falseSigns, f.wrongSigns, f.foundSigns, f.shifted, f.foundShifts)
}

// add surveys a road, drives it three times, asideM beside its line in the middle of each descent.
func (f *findings) add(b *testing.B, o synth.Options, asideM float64) {
	ctx, k := context.Background(), newKeptRoad(b, o)
	k.survey(b)
	cat := k.open(b)
	es, err := cat.Descents(ctx, store.Filter{})
	if err != nil {
		b.Fatal(err)
	}
	var sites []catalog.Site
	var middle [][2]float64
	for i := range es {
		d := &es[i].Descent
		lo, hi := math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
		middle = append(middle, [2]float64{(lo+hi)/2 - 400, (lo+hi)/2 + 400})
		truePct := 100 * math.Abs(k.road.TruthAtM(lo)-k.road.TruthAtM(hi)) / (hi - lo)
		if asideM > 0 {
			truePct += 4
		}
		at := d.StartM
		sites = append(sites, catalog.Site{ID: fmt.Sprint("s", i), Kind: catalog.SignStands, Legend: fmt.Sprintf("%.0f %%", truePct), Route: d.Route, Direction: d.Direction.String(), StationM: &at, Point: k.road.Line[0]})
	}
	if len(sites) > 0 {
		if _, err := cat.AddSites(ctx, sites, "test"); err != nil {
			b.Fatal(err)
		}
	}
	var paths []string
	for n := range 3 {
		var text strings.Builder
		text.WriteString("time_s,lon_deg,lat_deg,speed_mps,baro_m\n")
		for _, x := range k.road.Drive(synth.OrdinaryRecorder, n) {
			aside := 0.0
			if slices.ContainsFunc(middle, func(m [2]float64) bool { return x.TruthStationM > m[0] && x.TruthStationM < m[1] }) {
				aside = asideM
			}
			fmt.Fprintf(&text, "%g,%.7f,%.7f,%.1f,%.2f\n", x.TimeS, x.LonDeg+aside*.7/78e3, x.LatDeg+aside*.7/111e3, x.SpeedMPS, x.HeightM)
		}
		paths = append(paths, filepath.Join(k.dir, fmt.Sprintf("f%d.csv", n)))
		if err := os.WriteFile(paths[n], []byte(text.String()), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	if _, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: paths}); err != nil {
		b.Fatal(err)
	}
	say, err := survey.SayAllDrives(ctx, cat)
	if err != nil {
		b.Fatal(err)
	}
	for i := range say {
		k := k.road
		d := es[slices.IndexFunc(es, func(e catalog.Entry) bool { return e.Descent.ID == say[i].Descent })].Descent
		f.note(k, &say[i], &d, asideM)
	}
}

func (f *findings) note(road *synth.Road, s *survey.DrivesSay, d *routes.Descent, asideM float64) {
	lo, hi := math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
	hasSign, isFound := false, false
	for _, x := range s.Findings {
		switch {
		case x.Kind == survey.FindingSign:
			hasSign = true
		case x.Kind == survey.FindingLine && asideM > 0:
			isFound = isFound || x.FromM < (lo+hi)/2+300 && x.ToM > (lo+hi)/2-300
		case x.Kind == survey.FindingLine:
			f.lines++
			if off := offsetM(road, x.FromM, x.ToM); off < 8 {
				f.falseLines++
				fmt.Printf("false, the line is %.1f m off: %s\n", off, x.Words)
			}
		case asideM == 0:
			f.structures++
			if !slices.ContainsFunc(road.Structures, func(t synth.Structure) bool { return t.FromM < x.ToM+100 && t.ToM > x.FromM-100 }) {
				f.falseStructures++
			}
		}
	}
	if asideM == 0 {
		f.descents, f.signs = f.descents+1, f.signs+1
		if s.ContradictsWhy != "" {
			f.contradicted++
		}
		if hasSign {
			f.falseSigns++
			fmt.Printf("false: %s\n", s.Words())
		}
		return
	}
	f.wrongSigns, f.shifted = f.wrongSigns+1, f.shifted+1
	if hasSign {
		f.foundSigns++
	}
	if isFound {
		f.foundShifts++
	}
}

// offsetM is how far the drawn line lies beside the true road between two stations.
func offsetM(road *synth.Road, fromM, toM float64) float64 {
	sum, n := 0.0, 0
	for i, s := range road.TruthStationM {
		if s >= fromM && s <= toM {
			sum, n = sum+road.TruthOffsetM[i], n+1
		}
	}
	return math.Abs(sum) / float64(max(1, n))
}
