package spread

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"

	"gradeline/catalog"
	"gradeline/catalog/shared"
	"gradeline/terrain/raster"
)

// Machine is what a worker brings along.
type Machine struct {
	Catalog     string // address for surveys into the database of the queue; others name their file
	Workers     int    // routes at once; 0: GOMAXPROCS
	CacheBytes  int64  // of decoded terrain; 0: the usual
	MemoryBytes int64  // limit of the finishing job; 0: none
	AllowRemote bool   // read terrain and roads at network addresses
	UntilEmpty  bool   // end when no run is left that fits this machine

	Say func(words string) // what its user should know; may be nil

	// For tests: how often a worker shows that it lives, and when one that does not is given up.
	BeatEvery, LostAfter time.Duration
}

const (
	beatEvery = 10 * time.Second
	lostAfter = 60 * time.Second // several beats: a short loss of the network repeats nothing
)

// lookEvery is how often a worker looks for runs and for the end of one; shorter in tests.
var lookEvery = time.Second

// runner is a worker process.
type runner struct {
	q       *Queue
	m       Machine
	id      string // of this process in the queue
	host    string
	clock   clock
	own     prints // without files
	refused map[int64]string
	said    string
	settled atomic.Int64 // routes that the finishing job has done
	alone   sync.RWMutex // held for writing by a route that is tried by itself
}

// openRun is a run that is not finished.
type openRun struct {
	id            int64
	tool          string
	settings      settings
	prints        prints
	batchesLeft   int
	isLinesDone   bool
	hasFinishWork bool // a finishing job waits for a machine
}

// Work takes part in the surveys of a queue until ctx ends, or until none is left that fits this
// machine. A database that goes away is waited for; one that is not there at first is an error.
func (q *Queue) Work(ctx context.Context, m Machine) error {
	if m.Workers <= 0 {
		m.Workers = runtime.GOMAXPROCS(0)
	}
	if m.BeatEvery <= 0 {
		m.BeatEvery, m.LostAfter = beatEvery, lostAfter
	}
	if m.Say == nil {
		m.Say = func(string) {}
	}
	w := &runner{q: q, m: m, refused: map[int64]string{}}
	w.host, _ = os.Hostname() // only shown
	var err error
	if w.own, err = machinePrints(); err != nil {
		return err
	}
	if w.clock, err = q.clockOf(ctx); err != nil {
		return q.fault("does not answer", err)
	}
	if a := w.clock.ahead.Abs(); a > time.Minute {
		m.Say(fmt.Sprintf("this machine's clock is %s off the database's, which is the one that counts", a.Round(time.Second)))
	}
	err = w.loop(ctx)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// loop serves one run after the other.
func (w *runner) loop(ctx context.Context) error {
	for ctx.Err() == nil {
		run, err := w.nextRun(ctx)
		if err == nil && run != nil {
			err = w.serve(ctx, run)
		}
		switch {
		case err != nil && isLost(err):
			w.sayOnce(w.q.fault("is away", err).Error() + "; waiting for it")
		case err != nil && ctx.Err() == nil:
			return w.q.fault("cannot be used", err)
		case run == nil && w.m.UntilEmpty:
			return w.whyIdle()
		}
		if err != nil || run == nil {
			pause(ctx, lookEvery)
		}
	}
	return nil
}

// whyIdle is an error where runs are left that this machine does not fit.
func (w *runner) whyIdle() error {
	for id, why := range w.refused {
		return refusal(fmt.Sprintf("run %d is not for this machine: %s", id, why), "see above; others may work on it")
	}
	return nil
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// sayOnce says words that were not the last ones said.
func (w *runner) sayOnce(words string) {
	if words != w.said {
		w.said = words
		w.m.Say(words)
	}
}

// nextRun is the oldest open run that this machine fits and that has work for it; nil for none.
func (w *runner) nextRun(ctx context.Context) (*openRun, error) {
	rows, err := w.q.pool.Query(ctx, `SELECT id, tool, settings, prints, lines_at IS NOT NULL,
		(SELECT count(*) FROM batch b WHERE b.run = run.id AND (done_at IS NULL OR is_joined AND ahead_at IS NULL)),
		EXISTS (SELECT FROM river_job WHERE queue = 'finish-' || run.id AND state IN ('available', 'running'))
		FROM run WHERE finished_at IS NULL AND failed_at IS NULL ORDER BY id`)
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (*openRun, error) {
		r := &openRun{}
		var settingsText, printsText []byte
		if err := row.Scan(&r.id, &r.tool, &settingsText, &printsText, &r.isLinesDone, &r.batchesLeft, &r.hasFinishWork); err != nil {
			return nil, err
		}
		return r, errors.Join(json.Unmarshal(settingsText, &r.settings), json.Unmarshal(printsText, &r.prints))
	})
	if err != nil {
		return nil, err
	}
	open := map[int64]bool{}
	var first *openRun
	for _, r := range list {
		open[r.id] = true
		if first == nil && w.refused[r.id] == "" && w.fits(r) {
			first = r
		}
	}
	for id := range w.refused {
		if !open[id] {
			delete(w.refused, id)
		}
	}
	return first, nil
}

// fits checks what can be checked without files.
func (w *runner) fits(r *openRun) bool {
	why := r.prints.whyOtherMachine(&w.own)
	if why == "" && !w.m.AllowRemote {
		for _, path := range append(r.settings.Terrain, r.settings.Roads...) {
			if isRemote(path) {
				why = "it reads terrain or roads at network addresses: start the worker with --remote to allow that"
			}
		}
	}
	if why != "" {
		w.refuse(r, why)
	}
	return why == ""
}

// refuse leaves a run to other machines.
func (w *runner) refuse(r *openRun, why string) {
	w.refused[r.id] = why
	w.m.Say(fmt.Sprintf("run %d is left to other machines: %s", r.id, why))
}

// serve works on a run until it is finished, failed, or left to others.
func (w *runner) serve(ctx context.Context, r *openRun) error {
	surface, err := raster.Open(ctx, r.settings.Terrain, r.settings.raster(&w.m))
	if err != nil {
		if ctx.Err() == nil {
			w.refuse(r, "this machine does not have its terrain here ("+err.Error()+"); start the worker in the folder that the terrain's names are relative to")
		}
		return nil
	}
	defer surface.Close() // only read
	if why := r.prints.whyOtherTerrain(rasterPrints(surface.Sources())); why != "" {
		w.refuse(r, why)
		return nil
	}
	queues := map[string]river.QueueConfig{lineQueue(r.id): {MaxWorkers: w.m.Workers}}
	whyNotAhead := r.prints.whyOtherRoads(r.settings.Roads)
	if whyNotAhead == "" {
		queues[aheadQueue(r.id)] = river.QueueConfig{MaxWorkers: w.m.Workers}
	}
	whyNotFinish := cmp.Or(whyNotAhead, w.whyNotFinish(ctx, r))
	if whyNotFinish == "" {
		queues[finishQueue(r.id)] = river.QueueConfig{MaxWorkers: 1}
	}
	if w.clock, err = w.q.clockOf(ctx); err != nil {
		return err
	}
	workers := river.NewWorkers()
	river.AddWorker(workers, &lineWorker{runner: w, run: r, surface: surface})
	river.AddWorker(workers, &aheadWorker{runner: w, run: r, surface: surface})
	river.AddWorker(workers, &finishWorker{runner: w, run: r})
	client, err := w.q.client(w.clock, queues, workers)
	if err != nil {
		return err
	}
	w.id = client.ID()
	if err := w.beat(ctx, r.id); err != nil { // before the first job, which others would take for lost
		return err
	}
	w.m.Say(fmt.Sprintf("works on run %d: %d jobs are left", r.id, r.batchesLeft))
	// The client gets a context of its own: Stop lets jobs put themselves back first.
	if err := client.Start(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	err = w.attend(ctx, client, r, whyNotAhead, whyNotFinish)
	stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopWait)
	defer cancel()
	err = errors.Join(err, client.StopAndCancel(stopping))
	w.signOff()
	return err
}

const stopWait = 30 * time.Second

// whyNotFinish says why this machine can't run the finishing job, though it has the roads; empty where
// it can.
func (w *runner) whyNotFinish(ctx context.Context, r *openRun) string {
	if r.settings.Catalog != "" {
		return ""
	}
	if !IsAddress(w.m.Catalog) {
		return "it is stored in a database catalogue, and this worker was given none"
	}
	id, err := shared.IDOf(ctx, w.m.Catalog)
	switch {
	case err != nil:
		return err.Error()
	case r.prints.Catalog != "" && id != r.prints.Catalog:
		return "it is stored in another catalogue than " + shared.NameOf(w.m.Catalog) + ": give the worker the address that the survey was queued with"
	}
	return ""
}

// attend shows that the worker lives, looks after lost jobs and waits for the end of a run.
func (w *runner) attend(ctx context.Context, client *river.Client[pgx.Tx], r *openRun, whyNotAhead, whyNotFinish string) error {
	nextBeat := time.Now()
	for {
		pause(ctx, lookEvery)
		if ctx.Err() != nil {
			return nil
		}
		state, err := w.look(ctx, client, r)
		if err == nil && !time.Now().Before(nextBeat) {
			nextBeat = time.Now().Add(w.m.BeatEvery)
			if err = w.beat(ctx, r.id); err == nil {
				err = w.rescue(ctx, client, r.id)
			}
		}
		switch {
		case err != nil && !isLost(err):
			return err
		case err != nil:
			w.sayOnce(w.q.fault("is away", err).Error() + "; waiting for it")
		case state == Finished:
			return nil
		case state == Ahead && whyNotAhead != "", state == Finishing && whyNotFinish != "":
			w.refuse(r, "all its grade lines are there, and it is finished on other machines: "+whyNotFinish)
			return nil
		}
	}
}

// look says where a run is: Finished where it has ended or was dropped. When the last job of a kind is
// done it queues those of the next: after the grade lines the lines over several roads, where roads
// were joined, and then the finishing job.
func (w *runner) look(ctx context.Context, client *river.Client[pgx.Tx], r *openRun) (State, error) {
	ctx, cancel := context.WithTimeout(ctx, askWait)
	defer cancel()
	var isEnded, isLinesDone, isAheadDone, isLineLeft, isAheadLeft bool
	err := w.q.pool.QueryRow(ctx, `SELECT finished_at IS NOT NULL OR failed_at IS NOT NULL, lines_at IS NOT NULL, ahead_at IS NOT NULL,
		EXISTS (SELECT FROM batch WHERE run = $1 AND done_at IS NULL), EXISTS (SELECT FROM batch WHERE run = $1 AND is_joined AND ahead_at IS NULL)
		FROM run WHERE id = $1`, r.id).Scan(&isEnded, &isLinesDone, &isAheadDone, &isLineLeft, &isAheadLeft)
	switch {
	case errors.Is(err, pgx.ErrNoRows): // dropped
		return Finished, nil
	case err != nil:
		return Working, err
	case isEnded:
		return Finished, nil
	case isAheadDone:
		return Finishing, nil
	case isLinesDone && isAheadLeft:
		return Ahead, nil
	case isLineLeft:
		return Working, nil
	case isAheadLeft:
		return Ahead, w.begin(ctx, r.id, "lines_at", func(tx pgx.Tx) error { return insertAhead(ctx, tx, client, r.id) })
	}
	return Finishing, w.begin(ctx, r.id, "ahead_at", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "UPDATE run SET lines_at = coalesce(lines_at, now()) WHERE id = $1", r.id); err != nil {
			return err
		}
		_, err := client.InsertManyTx(ctx, tx, []river.InsertManyParams{finishJob(r.id)})
		return err
	})
}

// begin notes in a column of a run that a part of it begins, and queues it, unless another worker has.
func (w *runner) begin(ctx context.Context, run int64, column string, queue func(pgx.Tx) error) error {
	return pgx.BeginFunc(ctx, w.q.pool, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, "UPDATE run SET "+column+" = now() WHERE id = $1 AND "+column+" IS NULL", run)
		if err != nil || tag.RowsAffected() == 0 {
			return err
		}
		return queue(tx)
	})
}

// askWait is the time limit of a short question to the database.
const askWait = 20 * time.Second

// sayFault makes the words of an error for a run's table.
func sayFault(err error) string {
	var f *catalog.Fault
	if errors.As(err, &f) {
		return f.Error()
	}
	return err.Error()
}
