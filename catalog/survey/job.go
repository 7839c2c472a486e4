package survey

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/resurvey"
	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/vector"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// Setup sets the input, options and output of a job.
type Setup struct {
	Options
	Terrain []string // elevation rasters, folders of tiles or VRTs, finest first
	Raster  raster.Options
	Roads   []string // road files; "-" is Lines.Stdin
	Lines   vector.Options
	AsDrawn bool // lines are not joined into through roads

	DrivePaths          []string // recorded drives, or folders of them, whose heights improve the grade lines
	DrivesAreBarometric bool     // the elevations of a GPX file come from a barometer, which the file does not state

	Part Part // of the network; the zero value is all of it

	Catalog     string    // file, or address of a database; created when the first result is stored
	Tool        string    // name and version of the program, for the catalogue
	Fleet       *[]string // the classes that the office runs, which the catalogue keeps, none for every class; nil leaves what it keeps
	By          string    // who surveys, for the catalogue's history
	Invented    bool      // the entries are a demonstration
	Credit      string    // what the terrain's licence asks to be printed; may be empty
	AcceptMoves bool      // store new figures also for reviewed descents that moved beyond their bounds
	DryRun      bool      // work out the changes, write nothing
	Afresh      bool      // survey also the routes that an interrupted run has finished

	At time.Time // when the survey began, for the catalogue; zero is now

	KeepAll     bool // keep all that Routes, Descents, Skipped, Changes and JSON give; without it only Worst and Gaps
	KeepProfile bool // keep the rows of the grade lines for WriteProfile

	OnRoute func(done int)      // called after each route; may be nil
	Waiting func(store.Waiting) // called for each wait for another program that changes the catalogue; may be nil
}

// Job is one survey from files to catalogue. Memory grows by some tens of bytes with each route:
// the results go into the catalogue and into a journal on disk, from which the answer is read at
// the end. A job is not for concurrent use.
type Job struct {
	setup   Setup
	memory  share
	surface *raster.Surface
	sources []terrain.Raster
	classes []store.ClassUsed
	part    *partition
	head    journalHead
	earlier *earlierRuns
	cat     *store.Catalog
	batch   *store.Survey
	journal *journal
	namer   resurvey.Namer // names of descents where there is no catalogue

	worst     worstEntries
	steepest  steepestParts
	stepCheck StepCheck
	nodeCheck nodeCheck
	doubts    map[string][]routes.Doubt // stretches that a route at the same node contradicts, by route
	roadIDs   map[string]string         // in the road network, of routes that the catalogue calls otherwise
	unread    []routes.Skipped
	roads     *Roads
	network   *network.Summary
	warned    map[string]bool
	warnings  []string
	steps     []string // rasters whose heights differ by a constant
	failed    error    // of the first route that could not be surveyed
	notKept   error

	routes, takenOver int
	drawn             int // of the routes: in no road network
	isFinished        bool
	isClosed          bool
}

// Begin opens the terrain and a catalogue that is there, and finds what an earlier run of
// the same survey has finished (see Earlier). Nothing is surveyed before Run. The caller
// closes the job.
func Begin(ctx context.Context, s Setup) (*Job, error) {
	if len(s.Terrain) == 0 && len(s.DrivePaths) == 0 || len(s.Roads) == 0 {
		return nil, &catalog.Fault{Kind: terrain.ErrInput, What: "a survey without terrain or without road files", Fix: "name at least one of each; recorded drives can stand in for terrain"}
	}
	s.Descent = s.Descent.WithDefaults()
	j := &Job{setup: s, earlier: &earlierRuns{}, warned: map[string]bool{}}
	if err := j.open(ctx); err != nil {
		_ = j.Close() // nothing is lost: nothing was begun
		return nil, err
	}
	return j, nil
}

// open does the work of Begin. The caller closes the job if it fails.
func (j *Job) open(ctx context.Context) error {
	s := &j.setup
	var err error
	if j.memory, err = shareOf(s.MemoryBytes, s.Raster.CacheBytes, s.Workers); err != nil {
		return err
	}
	s.Workers, s.Raster.Workers = j.memory.workers, j.memory.workers
	if err := j.openTerrain(ctx); err != nil {
		return err
	}
	for _, k := range s.Classes {
		j.classes = append(j.classes, store.ClassUsed{ID: k.ID, Definition: mustJSON(k.View())})
	}
	if err := j.readDrives(ctx); err != nil {
		return err
	}
	s.Provenance = provenance(s, j.sources)
	if j.part, err = newPartition(ctx, s.Part, s.Roads, s.Lines); err != nil {
		return err
	}
	j.head = journalHead{Format: journalFormat, Setup: s.fingerprint(j.surface, s.Provenance), Files: absolute(s.Roads), Part: s.Part.String(), At: s.Provenance.At}
	if err := j.openExisting(ctx); err != nil {
		return err
	}
	return j.findEarlier(ctx)
}

// openExisting opens a catalogue that is there, so that it is checked before any work. A new one is
// created with the first result, or immediately for a part of a network.
func (j *Job) openExisting(ctx context.Context) error {
	isThere, err := store.Exists(ctx, j.setup.Catalog)
	if err == nil && (isThere || j.setup.Part.Of > 0 && !j.setup.DryRun) {
		err = j.openCatalog(ctx)
	}
	return err
}

// findEarlier finds what an interrupted run of the same survey has finished, and keeps its time.
func (j *Job) findEarlier(ctx context.Context) error {
	s := &j.setup
	if j.cat == nil || s.DryRun || s.Afresh || j.head.Setup == "" {
		return nil
	}
	earlier, err := openEarlierRuns(ctx, j.cat, j.head)
	if err != nil {
		return err
	}
	if j.earlier = earlier; len(earlier.finished) > 0 {
		j.head.At = earlier.began
		s.Provenance.At = earlier.began
	}
	return nil
}

// readDrives reads the recorded drives that are named and those that the catalogue keeps.
func (j *Job) readDrives(ctx context.Context) (err error) {
	s := &j.setup
	s.Drives = &Drives{}
	if len(s.DrivePaths) > 0 {
		if s.Drives, j.unread, err = ReadDrives(ctx, s.DrivePaths, s.DrivesAreBarometric); err != nil {
			return err
		}
	}
	if isThere, err := store.Exists(ctx, s.Catalog); err != nil || !isThere {
		return err
	}
	cat, err := store.Open(ctx, s.Catalog, store.Options{ReadOnly: true, BusyTimeout: 10 * time.Minute, Waiting: s.Waiting})
	if err != nil {
		return err
	}
	defer cat.Close() // only read
	skipped, err := s.Drives.readKept(ctx, cat)
	j.unread = append(j.unread, skipped...)
	return err
}

// openCatalog opens or makes the catalogue.
func (j *Job) openCatalog(ctx context.Context) error {
	s := &j.setup
	cat, err := store.Open(ctx, s.Catalog, store.Options{Create: !s.DryRun, ReadOnly: s.DryRun, Tool: s.Tool, BusyTimeout: 10 * time.Minute, Waiting: s.Waiting})
	if err != nil {
		return err
	}
	j.cat = cat
	if s.Fleet != nil && !s.DryRun {
		if err := cat.SetFleet(ctx, s.By, *s.Fleet); err != nil {
			return err
		}
	}
	j.batch = cat.BeginSurvey(store.SaveOptions{DryRun: s.DryRun, By: s.By, AcceptMoves: s.AcceptMoves, RoutesPerCommit: 25})
	return nil
}

// networkFiles names the files of a network and the part of them that was read.
func networkFiles(s *Setup) string {
	out := strings.Join(s.Roads, ", ")
	if b := s.Lines.Box; b != nil {
		out += fmt.Sprintf("; box %v", *b)
	}
	if len(s.Lines.Roads) > 0 {
		out += "; " + strings.Join(s.Lines.Roads, ",")
	}
	return out
}

// provenance lists the sources of every entry of a survey.
func provenance(s *Setup, sources []terrain.Raster) catalog.Provenance {
	d := s.Descent
	p := catalog.Provenance{Tool: s.Tool, At: cmp.Or(s.At, time.Now()).UTC().Truncate(time.Second), Invented: s.Invented,
		Rules: fmt.Sprintf("mean at least %.3g %% over at least %.0f m; core %.3g %%; relief %.3g m", d.MinMeanPct, d.MinLengthM, d.CorePct(), d.ReliefM)}
	if s.Credit != "" {
		p.Credits = []string{s.Credit}
	}
	p.Rasters, p.VertDatum = rasterNames(sources)
	return p
}

// rasterNames are the lines of the provenance for rasters, and their first vertical datum.
func rasterNames(sources []terrain.Raster) (names []string, datum string) {
	for i, src := range sources {
		if i == 8 {
			names = append(names, fmt.Sprintf("and %d more", len(sources)-i))
			break
		}
		mark := src.Fingerprint
		names = append(names, fmt.Sprintf("%s (%s, cell %.3g m, heights in %s, datum %s, %s)", src.Name, src.CRS, src.CellM, src.VertUnit, src.VertDatum, mark[:min(len(mark), 16)]))
		datum = cmp.Or(datum, src.VertDatum)
	}
	return names, datum
}

// Earlier returns the number of routes that an interrupted run has finished with the same terrain,
// roads, classes and rules, and its start. Run reuses them.
func (j *Job) Earlier() (count int, began time.Time) {
	return len(j.earlier.finished), j.earlier.began
}

// EarlierWords says that the survey continues an interrupted one; empty where it does not.
func (j *Job) EarlierWords() string {
	n, began := j.Earlier()
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("continues the survey that began %s and was interrupted: %d routes were finished with the same terrain, roads, classes and rules; --afresh surveys them again",
		began.Format("2006-01-02 15:04 MST"), n)
}

// Run surveys the routes and stores what it finds. When it fails or ctx ends, the
// complete routes are in the catalogue (NotKept says otherwise), and the same job,
// begun again, takes them over. A route that cannot be surveyed is a gap of the answer; that no
// route could be surveyed is an error, unless it is the ground that is missing.
func (j *Job) Run(ctx context.Context) error {
	roads := ReadRoads(j.setup.Roads, network.Options{Options: j.setup.Lines, AsDrawn: j.setup.AsDrawn})
	j.roads = roads
	err := j.survey(ctx, roads)
	j.network = roads.Network()
	if j.setup.Part.isFirst() { // so that it is reported once
		j.unread = append(j.unread, roads.Skipped()...)
	}
	if err == nil {
		err = j.finishNetwork(ctx)
	}
	if err == nil && j.routes == 0 && !errors.Is(j.failed, terrain.ErrVoid) {
		err = j.failed
	}
	if j.notKept = j.commit(); j.notKept != nil && err == nil {
		err = j.notKept
	}
	if err == nil {
		err = j.finish(ctx)
	}
	j.isFinished = err == nil
	return err
}

// survey stores each route in the catalogue and the journal.
func (j *Job) survey(ctx context.Context, roads *Roads) error {
	o := j.setup.Options
	o.roads, o.prepare, o.cacheBytes = roads, j.prepare, j.setup.Raster.CacheBytes
	var surface terrain.Surface // nil without terrain
	if j.surface != nil {
		surface = j.surface
	}
	for r, err := range results(ctx, surface, j.tasks(ctx, roads), o) {
		if err != nil {
			return err
		}
		if w := j.memory.tooLong(&r.Route, j.setup.MemoryBytes); w != "" {
			j.warned[w] = true
		}
		rec, facts, err := j.recordOf(ctx, &r)
		if err == nil {
			err = j.addRecord(ctx, rec, facts)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// tasks are the routes of the part, with a mark on those that an earlier run has finished.
func (j *Job) tasks(ctx context.Context, roads *Roads) iter.Seq2[task, error] {
	return func(yield func(task, error) bool) {
		for r, err := range roads.Routes(ctx) {
			t := task{route: r, network: roads.mark()}
			switch {
			case err != nil:
			case !j.part.has(&r):
				continue
			case len(j.earlier.finished) > 0:
				if f, ok := j.earlier.finished[routeKey(j.head.Setup, t.network, &r)]; ok {
					t.earlier = &f
				}
			}
			if !yield(t, err) {
				return
			}
		}
	}
}

// commit commits the routes that were saved since the last commit.
func (j *Job) commit() error {
	if j.batch == nil {
		return nil
	}
	err := j.batch.Close()
	j.batch = nil
	return err
}

// finish adds the results that need the complete survey.
func (j *Job) finish(ctx context.Context) error {
	if j.journal == nil { // not one route: an empty answer
		if err := j.appendRecord(&record{partFacts: []byte("{}")}); err != nil {
			return err
		}
	}
	if err := j.warnOfUncompared(ctx); err != nil {
		return err
	}
	for _, w := range j.terrainWarnings() {
		j.warned[w] = true
	}
	if w := overLimit(j.setup.MemoryBytes, peakBytes()); w != "" {
		j.warned[w] = true
	}
	for w := range j.warned {
		j.warnings = append(j.warnings, w)
	}
	slices.Sort(j.warnings)
	if j.surface != nil {
		j.steps = j.stepCheck.Steps(ctx, j.surface)
	}
	j.warnings = append(j.warnings, j.steps...)
	j.warnings = append(j.warnings, j.network.Warnings()...)
	return nil
}

// openTerrain opens the rasters; there are none where drives stand in for them.
func (j *Job) openTerrain(ctx context.Context) (err error) {
	s := &j.setup
	if len(s.Terrain) == 0 {
		return nil
	}
	if j.surface, err = raster.Open(ctx, s.Terrain, s.Raster); err == nil {
		j.sources = j.surface.Sources()
	}
	return err
}

// terrainWarnings are those of the terrain's readers; none without terrain.
func (j *Job) terrainWarnings() []string {
	if j.surface == nil {
		return nil
	}
	return j.surface.Warnings()
}

// KeepForLater makes Close leave the journal of a finished survey, so that the same job, begun
// again, takes everything over. It is for an answer that could not be written.
func (j *Job) KeepForLater() { j.isFinished = false }

// Close releases the files. The journal of an interrupted survey stays, so that the next one can
// continue; that of a finished survey is removed. A second call does nothing.
func (j *Job) Close() error {
	if j.isClosed {
		return nil
	}
	j.isClosed = true
	if j.batch != nil {
		_ = j.batch.Abort() // its content is not needed
	}
	if j.journal != nil {
		if j.isFinished || j.routes == 0 {
			j.journal.remove()
		} else {
			j.journal.closeKeepingFile()
		}
	}
	if j.isFinished {
		j.earlier.removeFiles()
		if !j.setup.DryRun && j.cat != nil {
			dropJournals(j.cat.LocalPath(), j.head)
		}
	} else {
		j.earlier.closeKeepingFiles()
	}
	if j.cat != nil {
		_ = j.cat.Close() // already committed or abandoned
	}
	if j.surface != nil {
		return j.surface.Close()
	}
	return nil
}
