package survey_test

import (
	"bytes"
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
	"gradeline/catalog/wording"
	"gradeline/terrain/synth"
)

// keptRoad is a drawn road with its raster, its line and a catalogue of its descents.
type keptRoad struct {
	road          *synth.Road
	dir, file     string
	rasters, line []string
}

// keptOptions are those of the road of most tests.
var keptOptions = synth.Options{Seed: 1003, LengthM: 8000}

func newKeptRoad(t testing.TB, o synth.Options) *keptRoad {
	t.Helper()
	k := &keptRoad{dir: t.TempDir()}
	var err error
	if k.road, err = synth.NewRoad(o); err != nil {
		t.Fatal(err)
	}
	if k.rasters, err = writeRasters(k.road, 30, k.dir); err != nil {
		t.Fatal(err)
	}
	k.line = []string{filepath.Join(k.dir, "road.geojson")}
	if _, err := readBackRoute(context.Background(), k.road, synth.Listed, k.line[0]); err != nil {
		t.Fatal(err)
	}
	k.file = filepath.Join(k.dir, "hills.gpkg")
	return k
}

// survey surveys the road into its catalogue, and returns the drives and the gaps.
func (k *keptRoad) survey(t testing.TB, drives ...string) (uses []survey.DriveUse, gaps string) {
	t.Helper()
	job, err := survey.Begin(context.Background(), survey.Setup{Terrain: k.rasters, Roads: k.line, DrivePaths: drives, KeepAll: true, Catalog: k.file, Tool: "test", Afresh: true,
		Options: survey.Options{Units: catalog.Metric, Workers: 1}})
	if err != nil {
		t.Fatal(err)
	}
	defer job.Close()
	if err := job.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	for f, err := range job.Routes() {
		if err != nil {
			t.Fatal(err)
		}
		uses = f.Drives
	}
	for g, err := range job.Gaps() {
		if err != nil {
			t.Fatal(err)
		}
		gaps += g + "\n"
	}
	return uses, gaps
}

func (k *keptRoad) open(t testing.TB) *store.Catalog {
	t.Helper()
	cat, err := store.Open(context.Background(), k.file, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cat.Close() })
	return cat
}

// entries are the descents of the catalogue.
func (k *keptRoad) entries(t testing.TB, cat *store.Catalog) []catalog.Entry {
	t.Helper()
	es, err := cat.Descents(context.Background(), store.Filter{})
	if err != nil || len(es) == 0 {
		t.Fatalf("%d descents, %v", len(es), err)
	}
	return es
}

// A catalogue keeps drives without their names; the next survey uses them, once each, and its
// provenance counts them.
func TestDrivesOfTheCatalogueAreUsed(t *testing.T) {
	ctx, k := context.Background(), newKeptRoad(t, keptOptions)
	k.survey(t)
	folder := filepath.Join(k.dir, "jane-doe")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		writeDrive(t, k.road, i, "baro_m", filepath.Join(folder, fmt.Sprintf("jane-doe-2026-05-0%d.csv", i+1)))
	}
	b, err := os.ReadFile(filepath.Join(folder, "jane-doe-2026-05-01.csv"))
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, "jane-doe-copy.csv"), b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	cat := k.open(t)
	r, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: []string{folder}, By: "office"})
	if err != nil || len(r.Drives) != 3 || len(r.Question) != 0 || len(r.Skipped) != 1 || !strings.Contains(r.Skipped[0].Why, "the same heights") {
		t.Fatalf("%+v, %v", r, err)
	}
	again, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: []string{folder}, By: "office"})
	if err != nil || again.Drives[0].New != 0 || again.Drives[0].Number != r.Drives[0].Number {
		t.Errorf("the same folder again: %+v, %v", again, err)
	}
	cat.Close()
	file, err := os.ReadFile(k.file)
	if err != nil || bytes.Contains(bytes.ToLower(file), []byte("jane")) || bytes.Contains(file, []byte("2026-05-0")) {
		t.Errorf("the catalogue knows who drove or when: %v", err)
	}
	uses, gaps := k.survey(t, filepath.Join(folder, "jane-doe-2026-05-02.csv"))
	if len(uses) != 3 || strings.Count(gaps, "it is used once, as drive") != 1 {
		t.Fatalf("%+v, %s", uses, gaps)
	}
	for _, u := range uses {
		if !u.IsUsed || !strings.HasPrefix(u.File, "drive ") || !strings.HasSuffix(u.File, " of the catalogue") {
			t.Errorf("%+v", u)
		}
	}
	for _, e := range k.entries(t, k.open(t)) {
		if e.Provenance.Drives != 3 {
			t.Errorf("%s: from %d drives", e.Descent.ID, e.Provenance.Drives)
		}
	}
}

// Two trucks in one file, one some minutes behind the other, are named and not used: their places
// jump. A drive with a few outliers stays.
func TestTwoVehiclesInOneFile(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	road, err := synth.NewRoad(keptOptions)
	if err != nil {
		t.Fatal(err)
	}
	a, b := road.Drive(synth.OrdinaryRecorder, 0), road.Drive(synth.OrdinaryRecorder, 2)
	write := func(name string, mix bool) string {
		var out strings.Builder
		out.WriteString("time_s,lon_deg,lat_deg,speed_mps,baro_m\n")
		for i, f := range a {
			lat := f.LatDeg
			if i%100 == 50 {
				lat += .01 // an outlier of a kilometre
			}
			fmt.Fprintf(&out, "%g,%.7f,%.7f,%.1f,%.2f\n", f.TimeS, f.LonDeg, lat, f.SpeedMPS, f.HeightM)
			if mix && i > 120 && i-120 < len(b) {
				g := b[i-120]
				fmt.Fprintf(&out, "%g,%.7f,%.7f,%.1f,%.2f\n", f.TimeS+.5, g.LonDeg, g.LatDeg, g.SpeedMPS, g.HeightM)
			}
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(out.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	_, skipped, err := survey.ReadDrives(ctx, []string{write("two.csv", true), write("outliers.csv", false)}, false)
	if err != nil || len(skipped) != 1 || !strings.HasSuffix(skipped[0].Where, "two.csv") || !strings.Contains(skipped[0].Why, "two vehicles") {
		t.Errorf("%+v, %v", skipped, err)
	}
}

// Drives that contradict an approved descent beyond its bound put it in question; drives that agree
// do not.
func TestDrivesQuestionAnApproval(t *testing.T) {
	ctx, k := context.Background(), newKeptRoad(t, keptOptions)
	k.survey(t)
	cat := k.open(t)
	es := k.entries(t, cat)
	for i := range es {
		if err := cat.Review(ctx, es[i].Descent.ID, catalog.Review{State: catalog.Approved, By: "Ada"}); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 3 {
		path := filepath.Join(k.dir, fmt.Sprintf("agrees-%d.csv", i))
		writeDrive(t, k.road, 10+i, "baro_m", path)
		r, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: []string{path}})
		if err != nil || len(r.Drives) != 1 || len(r.Question) != 0 {
			t.Fatalf("drives of the same road: %+v, %v", r, err)
		}
		if _, err := cat.ForgetDrives(ctx, []int64{r.Drives[0].Number}, "office"); err != nil {
			t.Fatal(err)
		}
	}
	d := &es[0].Descent
	var paths []string
	for i := range 3 {
		var b strings.Builder
		b.WriteString("time_s,lon_deg,lat_deg,speed_mps,baro_m\n")
		for _, f := range k.road.Drive(synth.OrdinaryRecorder, i) {
			// The road was rebuilt: 1.2 points steeper over one kilometre, easier over the next.
			fall := 12 * max(0, 1-math.Abs(f.TruthStationM-4000)/1000)
			fmt.Fprintf(&b, "%g,%.7f,%.7f,%.1f,%.2f\n", f.TimeS, f.LonDeg, f.LatDeg, f.SpeedMPS, f.HeightM-fall)
		}
		paths = append(paths, filepath.Join(k.dir, fmt.Sprintf("deeper-%d.csv", i)))
		if err := os.WriteFile(paths[i], []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	r, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: paths, By: "office"})
	if err != nil || len(r.Drives) != 3 {
		t.Fatalf("%+v, %v", r, err)
	}
	found := false
	for _, q := range r.Question {
		found = found || q.ID == d.ID
	}
	if !found {
		t.Fatalf("not in question: %+v; %+v", r.Question, d)
	}
	e, err := cat.Descent(ctx, d.ID)
	if err != nil || !strings.Contains(e.Review.InQuestion, "recorded drive") || e.Review.State != catalog.Approved {
		t.Errorf("%+v, %v", e.Review, err)
	}
}

// A place some tenths of a metre before the line's first point is on the road and has no station: the
// drive is kept without it.
func TestAPlaceJustBeforeTheLine(t *testing.T) {
	ctx, k := context.Background(), newKeptRoad(t, keptOptions)
	k.survey(t)
	cat := k.open(t)
	path := filepath.Join(k.dir, "d.csv")
	writeDrive(t, k.road, 0, "baro_m", path)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	a, b := k.road.Line[0], k.road.Line[1]
	const mPerDeg = 111_000.0
	lengthM := mPerDeg * math.Hypot((b.LonDeg-a.LonDeg)*math.Cos(a.LatDeg*math.Pi/180), b.LatDeg-a.LatDeg)
	before := func(m float64) string {
		return fmt.Sprintf("%.8f,%.8f", a.LonDeg-(b.LonDeg-a.LonDeg)*m/lengthM, a.LatDeg-(b.LatDeg-a.LatDeg)*m/lengthM)
	}
	rows := strings.Split(string(text), "\n")
	for i, m := range []float64{.9, .7, .5} {
		cells := strings.Split(rows[1+i], ",")
		rows[1+i] = strings.Join([]string{cells[0], before(m), cells[3], cells[4]}, ",")
	}
	if err := os.WriteFile(path, []byte(strings.Join(rows, "\n")), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: []string{path}})
	if err != nil || len(r.Drives) != 1 {
		t.Fatalf("%+v, %v", r, err)
	}
	passes, err := cat.Drives(ctx, k.road.Name, true)
	if err != nil || len(passes) == 0 || passes[0].Fixes[0].StationM < 0 {
		t.Errorf("%d passes, %v", len(passes), err)
	}
}

// What drives say is found where it was put: a line beside the road, ground that is not the road, a
// grade sign that is wrong. Drives of the road as it is find nothing.
func TestDrivesFindWhatIsWrong(t *testing.T) {
	ctx, k := context.Background(), newKeptRoad(t, keptOptions)
	k.survey(t)
	cat := k.open(t)
	var paths []string
	for i := range 3 {
		paths = append(paths, filepath.Join(k.dir, fmt.Sprintf("d%d.csv", i)))
		writeDrive(t, k.road, i, "baro_m", paths[i])
	}
	id := k.entries(t, cat)[0].Descent.ID
	say := func() *survey.DrivesSay {
		e, err := cat.Descent(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		s, err := survey.SayDrives(ctx, cat, &e)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if s := say(); s != nil {
		t.Errorf("without drives: %+v", s)
	}
	queued := func() (store.QueueItem, bool) {
		items, err := survey.Queue(ctx, cat)
		if err != nil {
			t.Fatal(err)
		}
		k := slices.IndexFunc(items, func(it store.QueueItem) bool { return it.ID == id })
		if k < 0 {
			return store.QueueItem{}, false
		}
		return items[k], slices.Contains(items[k].Reasons, store.QueueDrives)
	}
	if it, is := queued(); is {
		t.Errorf("without drives: %+v", it)
	}
	r, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: paths})
	if err != nil {
		t.Fatal(err)
	}
	// The drawn line lies 13 to 17 m beside the road in its last 450 m, and nowhere else over 11 m.
	s := say()
	if s.Drives != 3 || s.Used != 3 || s.ContradictsWhy != "" || len(s.Findings) != 1 {
		t.Fatalf("drives of the road as it is: %+v", s)
	}
	if f := s.Findings[0]; f.Kind != survey.FindingLine || math.Abs(f.FromM-7650) > 100 || f.ToM < 8000 || !strings.Contains(f.Words, "about 18 m to the right") {
		t.Errorf("%+v", f)
	}
	station := 3000.0
	stands := func(legend string) string {
		if _, err := cat.AddSites(ctx, []catalog.Site{{ID: "s", Kind: catalog.SignStands, Legend: legend, Route: k.road.Name, StationM: &station, Point: k.road.Line[0]}}, "office"); err != nil {
			t.Fatal(err)
		}
		for _, f := range say().Findings {
			if f.Kind == survey.FindingSign {
				return f.Words
			}
		}
		return ""
	}
	// The road has a mean of 8.0 % and 8.6 % at its steepest.
	for legend, want := range map[string]string{"8% GRADE": "", "8.5 %": "", "6% NEXT 5 MILES": "less than", "12 %": "more than", "TRUCKS USE LOW GEAR": ""} {
		if got := stands(legend); (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("a sign %q: %q", legend, got)
		}
	}
	// The same drives with a bridge under them that no line names, and beside the line for a kilometre.
	for _, d := range r.Drives {
		if _, err := cat.ForgetDrives(ctx, []int64{d.Number}, ""); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 3 {
		var b strings.Builder
		b.WriteString("time_s,lon_deg,lat_deg,speed_mps,baro_m\n")
		for _, f := range k.road.Drive(synth.OrdinaryRecorder, i) {
			high, east := 0.0, 0.0
			if f.TruthStationM > 5000 && f.TruthStationM < 5200 {
				high = 30 * math.Sin(math.Pi*(f.TruthStationM-5000)/200)
			}
			if f.TruthStationM > 6200 && f.TruthStationM < 7200 {
				east = 25
			}
			fmt.Fprintf(&b, "%g,%.7f,%.7f,%.1f,%.2f\n", f.TimeS, f.LonDeg, f.LatDeg+east/111e3, f.SpeedMPS, f.HeightM+high)
		}
		if err := os.WriteFile(paths[i], []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := survey.ImportDrives(ctx, cat, survey.DriveImport{Paths: paths}); err != nil {
		t.Fatal(err)
	}
	kinds := map[string]survey.DriveFinding{}
	for _, f := range slices.Backward(say().Findings) {
		kinds[f.Kind] = f
	}
	if f := kinds[survey.FindingLine]; math.Abs(f.FromM-6200) > 150 || f.ToM < 6600 || f.ToM > 7300 || !strings.Contains(f.Words, "of the line") {
		t.Errorf("a line beside the road: %+v", f)
	}
	// A reviewer sees it, beside what the queue has already.
	if it, is := queued(); !is || len(it.Reasons) < 2 || !strings.Contains(it.Words, "check the line there") {
		t.Errorf("queue: %+v", it)
	}
	// Approved, it needs a look for that alone.
	if err := cat.Decide(ctx, id, store.Decision{Review: catalog.Review{State: catalog.Approved, By: "Reviewer"}}); err != nil {
		t.Fatal(err)
	}
	if it, is := queued(); !is || len(it.Reasons) != 1 || it.State != catalog.Approved || it.Route != k.road.Name || it.Name == "" {
		t.Errorf("queue after an approval: %+v", it)
	}
	if f := kinds[survey.FindingStructure]; f.FromM < 4950 || f.ToM > 5250 || f.ToM-f.FromM < 60 || !strings.Contains(f.Words, "below") {
		t.Errorf("a bridge: %+v", f)
	}
}

// Without terrain, four drives in both directions give the road's descent with a bound that holds;
// two do not.
func TestASurveyFromDrivesAlone(t *testing.T) {
	ctx, k := context.Background(), newKeptRoad(t, keptOptions)
	var paths []string
	for i := range 4 {
		paths = append(paths, filepath.Join(k.dir, fmt.Sprintf("d%d.csv", i)))
		writeDrive(t, k.road, i, "baro_m", paths[i])
	}
	run := func(drives []string) (list []survey.DescentFacts, err error) {
		job, err := survey.Begin(ctx, survey.Setup{Roads: k.line, DrivePaths: drives, KeepAll: true, Catalog: k.file, Tool: "test", Options: survey.Options{Units: catalog.Metric, Workers: 1}})
		if err != nil {
			t.Fatal(err)
		}
		defer job.Close()
		if err := job.Run(ctx); err != nil {
			return nil, err
		}
		for d, err := range job.Descents() {
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, d)
		}
		return list, nil
	}
	if _, err := run(paths[:2]); err == nil || !strings.Contains(err.Error(), "in both directions") {
		t.Errorf("two drives: %v", err)
	}
	list, err := run(paths)
	if err != nil || len(list) != 1 {
		t.Fatalf("%+v, %v", list, err)
	}
	d := list[0]
	at := func(s float64) float64 { return k.road.TruthAtM(min(s, k.road.LengthM)) }
	truth := 100 * (at(d.StartM) - at(d.EndM)) / d.LengthM
	if math.Abs(d.MeanDowngradePct-truth) > d.MeanDowngradeErrPct || d.MeanDowngradeErrPct < 0.3 || d.MeanDowngradeErrPct > 1 || d.LengthM < 7500 {
		t.Errorf("%.2f ± %.2f %% over %.0f m, the truth is %.2f", d.MeanDowngradePct, d.MeanDowngradeErrPct, d.LengthM, truth)
	}
	e := k.entries(t, k.open(t))[0]
	if words := wording.SourceLine(e.Provenance); !strings.Contains(words, "4 recorded drives alone, without terrain") {
		t.Error(words)
	}
}
