package spread

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"gradeline/catalog/survey"
	"gradeline/terrain/raster"
)

// lineWorker recovers the grade lines of a batch.
type lineWorker struct {
	river.WorkerDefaults[lineArgs]
	runner  *runner
	run     *openRun
	surface *raster.Surface
}

// retryAfter is short enough for River to make the job available at once; shorter in tests.
var retryAfter = 2 * time.Second

// NextRetry is when a job is tried again whose worker failed.
func (l *lineWorker) NextRetry(*river.Job[lineArgs]) time.Time {
	return l.runner.clock.Now().Add(retryAfter)
}

// poisonTries is how often a route is tried by itself before it is set aside.
const poisonTries = 3

// workRoute is a route of a batch that has no grade line yet.
type workRoute struct {
	seq    int32
	packed []byte
	tries  int
}

// lineRecord is the effect of one route: a packed grade line, or why there is none.
type lineRecord struct {
	seq    int32
	packed []byte
	failed string
}

// Work does a batch. At first all its records go in with the job's completion. Where that did not
// work out, each route is tried by itself, and its record goes in at once: then one bad route stops
// no other, whether it fails or ends the process.
func (l *lineWorker) Work(ctx context.Context, job *river.Job[lineArgs]) error {
	list, err := l.load(ctx, job.Args)
	if err != nil {
		return err
	}
	isCareful := job.Attempt > 1
	for i := range list {
		isCareful = isCareful || list[i].tries > 0
	}
	var records []lineRecord
	var bad []lineRecord
	for i := range list {
		if isCareful {
			err = l.tryAlone(ctx, &list[i], &bad)
			if err != nil {
				return l.orPutBack(ctx, err)
			}
			continue
		}
		l.runner.alone.RLock()
		r, err := l.recover(ctx, &list[i])
		l.runner.alone.RUnlock()
		switch {
		case ctx.Err() != nil:
			return l.orPutBack(ctx, ctx.Err())
		case err != nil:
			bad = append(bad, lineRecord{seq: list[i].seq, failed: sayFault(err)})
		default:
			records = append(records, r)
		}
	}
	if err := l.store(ctx, job, records, bad); err != nil {
		return l.orPutBack(ctx, err)
	}
	if len(bad) > 0 {
		return river.JobSnooze(retryAfter)
	}
	return nil
}

// orPutBack gives a job back where this worker is being stopped, which is no failure of the job.
func (l *lineWorker) orPutBack(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return river.JobSnooze(0)
	}
	return err
}

// load reads the routes of a batch that have no record.
func (l *lineWorker) load(ctx context.Context, a lineArgs) ([]workRoute, error) {
	rows, err := l.runner.q.pool.Query(ctx, `SELECT r.seq, r.packed, r.tries FROM batch b CROSS JOIN unnest(b.seqs) WITH ORDINALITY AS s(seq, n)
		JOIN route r ON r.run = b.run AND r.seq = s.seq
		WHERE b.run = $1 AND b.batch = $2 AND b.done_at IS NULL AND NOT EXISTS (SELECT FROM grade_line g WHERE g.run = r.run AND g.seq = r.seq) ORDER BY s.n`, a.Run, a.Batch)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (r workRoute, err error) {
		return r, row.Scan(&r.seq, &r.packed, &r.tries)
	})
}

// recover makes the grade line of a route.
func (l *lineWorker) recover(ctx context.Context, w *workRoute) (rec lineRecord, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the program failed on this route: %v", p)
		}
	}()
	r, err := unpackRoute(w.packed)
	if err != nil {
		return rec, fmt.Errorf("its job cannot be read: %w", err)
	}
	k := &l.run.settings
	line, err := recoverLine(ctx, l.surface, r, survey.Options{SurfaceModel: k.SurfaceModel, AccuracyM: k.AccuracyM})
	if err != nil {
		return rec, err
	}
	rec.seq = w.seq
	rec.packed, err = packLine(&line)
	return rec, err
}

// recoverLine is replaced by tests of routes that end the process.
var recoverLine = survey.RecoverLine

// tryAlone tries one route and stores its record, with no other route in work in this process: one
// that ends it would count as a try of the other. The try is counted before it begins: a route that
// ends the process was tried too.
func (l *lineWorker) tryAlone(ctx context.Context, w *workRoute, bad *[]lineRecord) error {
	l.runner.alone.Lock()
	defer l.runner.alone.Unlock()
	pool, run := l.runner.q.pool, l.run.id
	var tries int
	var problem string
	switch err := pool.QueryRow(ctx, countTry, run, w.seq).Scan(&tries, &problem); {
	case errors.Is(err, pgx.ErrNoRows): // another worker, thought to be lost or thinking so, has done it
		return nil
	case err != nil:
		return err
	}
	var rec lineRecord
	if tries <= poisonTries {
		var err error
		rec, err = l.recover(ctx, w)
		if ctx.Err() != nil { // being stopped: it was no try
			free, cancel := context.WithTimeout(context.WithoutCancel(ctx), askWait)
			defer cancel()
			_, _ = pool.Exec(free, "UPDATE route SET tries = tries - 1 WHERE run = $1 AND seq = $2", run, w.seq) // else it is a try
			return ctx.Err()
		}
		if err != nil {
			problem = sayFault(err)
			if tries < poisonTries {
				*bad = append(*bad, lineRecord{seq: w.seq, failed: problem})
				return nil
			}
		}
	}
	if rec.packed == nil {
		rec = lineRecord{seq: w.seq, failed: problem}
		if problem == "" {
			rec.failed = fmt.Sprintf("the process that surveyed it ended %d times without a message, as when memory runs out", poisonTries)
		}
	}
	_, err := pool.Exec(ctx, insertLine, run, rec.seq, rec.packed, rec.failed)
	return err
}

const countTry = `UPDATE route SET tries = tries + 1 WHERE run = $1 AND seq = $2
	AND NOT EXISTS (SELECT FROM grade_line g WHERE g.run = $1 AND g.seq = $2) RETURNING tries, problem`

const insertLine = "INSERT INTO grade_line (run, seq, packed, failed) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING"

// store puts records in and completes the job, all or nothing. Routes that failed are noted instead,
// and the job stays.
func (l *lineWorker) store(ctx context.Context, job *river.Job[lineArgs], records, bad []lineRecord) error {
	return storeBatch(ctx, l.runner.q.pool, job, "done_at", job.Args.Run, job.Args.Batch, func(b *pgx.Batch) bool {
		for _, r := range records {
			b.Queue(insertLine, job.Args.Run, r.seq, r.packed, r.failed)
		}
		for _, r := range bad {
			b.Queue("UPDATE route SET tries = greatest(tries, 1), problem = $3 WHERE run = $1 AND seq = $2", job.Args.Run, r.seq, r.failed)
		}
		if len(bad) > 0 {
			return false
		}
		b.Queue("UPDATE batch SET done_at = now(), worker = $3, warnings = $4 WHERE run = $1 AND batch = $2", job.Args.Run, job.Args.Batch, l.runner.id, append([]string{}, l.surface.Warnings()...))
		return true
	})
}

// storeBatch sends the rows of a batch of a run and completes its job, all or nothing. doneColumn of
// the batch has the time when it was done; a batch that is done, or whose run was removed, only
// completes the job. rows queues what to send and reports whether that is all; otherwise the job stays.
func storeBatch[T river.JobArgs](ctx context.Context, pool *pgxpool.Pool, job *river.Job[T], doneColumn string, run int64, batch int32, rows func(*pgx.Batch) bool) error {
	return pgx.BeginFunc(ctx, pool, func(tx pgx.Tx) error {
		var isDone bool
		err := tx.QueryRow(ctx, "SELECT "+doneColumn+" IS NOT NULL FROM batch WHERE run = $1 AND batch = $2 FOR UPDATE", run, batch).Scan(&isDone)
		if err != nil && !errors.Is(err, pgx.ErrNoRows) {
			return err
		}
		if err == nil && !isDone {
			var b pgx.Batch
			isAll := rows(&b)
			if err := tx.SendBatch(ctx, &b).Close(); err != nil {
				return err
			}
			if !isAll {
				return nil
			}
		}
		_, err = river.JobCompleteTx[*riverpgxv5.Driver](ctx, tx, job)
		return err
	})
}
