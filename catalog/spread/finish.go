package spread

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"

	"gradeline/catalog/survey"
	"gradeline/routes"
)

// finishWorker settles a run: it is an ordinary survey that finds its grade lines in the database.
// Heights at nodes, continuations across junctions, descents, advice and the catalogue are therefore
// those of a single machine's survey, whatever the order of the jobs.
type finishWorker struct {
	river.WorkerDefaults[finishArgs]
	runner *runner
	run    *openRun
}

// NextRetry is when the job is tried again whose worker failed.
func (f *finishWorker) NextRetry(*river.Job[finishArgs]) time.Time {
	return f.runner.clock.Now().Add(retryAfter)
}

// mostFinishAttempts limits how often the finishing job may begin: its process may end each time.
const mostFinishAttempts = 8

// Work runs the survey and marks the run as finished.
func (f *finishWorker) Work(ctx context.Context, job *river.Job[finishArgs]) error {
	if job.Attempt > mostFinishAttempts {
		return f.giveUp(ctx, job, fmt.Sprintf("its last job was begun %d times and never ended", mostFinishAttempts))
	}
	err := f.settle(ctx, job)
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return river.JobSnooze(0)
	case isLost(err):
		w := f.runner
		w.sayOnce(w.q.fault("is away", err).Error() + "; the survey is finished when it is back")
		return err // nothing was marked; the survey takes up its own records
	}
	var tries int
	if e := f.runner.q.pool.QueryRow(ctx, "UPDATE run SET finish_tries = finish_tries + 1, problem = $2 WHERE id = $1 RETURNING finish_tries", f.run.id, sayFault(err)).Scan(&tries); e != nil {
		return e
	}
	if tries >= poisonTries {
		return f.giveUp(ctx, job, sayFault(err))
	}
	return err
}

// giveUp marks a run as failed.
func (f *finishWorker) giveUp(ctx context.Context, job *river.Job[finishArgs], why string) error {
	return pgx.BeginFunc(ctx, f.runner.q.pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "UPDATE run SET failed_at = now(), problem = $2 WHERE id = $1 AND finished_at IS NULL", f.run.id, why); err != nil {
			return err
		}
		_, err := river.JobCompleteTx[*riverpgxv5.Driver](ctx, tx, job)
		return err
	})
}

// settle runs the survey, and marks the run as finished before the survey's own records go.
func (f *finishWorker) settle(ctx context.Context, job *river.Job[finishArgs]) (err error) {
	w := f.runner
	var queuedAt time.Time
	var isFinished bool
	if err := w.q.pool.QueryRow(ctx, "SELECT queued_at, finished_at IS NOT NULL FROM run WHERE id = $1", f.run.id).Scan(&queuedAt, &isFinished); err != nil {
		return err
	}
	if isFinished {
		return f.complete(ctx, job)
	}
	run, abort := context.WithCancelCause(ctx)
	defer abort(nil)
	s := f.run.settings.setup(f.run.tool, &w.m)
	s.At = queuedAt
	s.GradeLine = f.gradeLines(abort)
	var known, anew atomic.Int64
	s.OnAhead = func(isKnown bool) {
		if isKnown {
			known.Add(1)
		} else {
			anew.Add(1)
		}
	}
	s.OnRoute = func(done int) { w.settled.Store(int64(done)) }
	defer w.settled.Store(0)
	j, err := survey.Begin(run, s)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	if err = j.Run(run); err != nil || run.Err() != nil {
		j.KeepForLater()
		if ctx.Err() == nil && run.Err() != nil {
			err = context.Cause(run)
		}
		return err
	}
	if err := f.markFinished(ctx, job, j); err != nil {
		j.KeepForLater()
		return err
	}
	if all := known.Load() + anew.Load(); all > 0 {
		w.m.Say(fmt.Sprintf("of %d lines over several roads %d were surveyed ahead", all, known.Load()))
	}
	return nil
}

// gradeLines gives a survey its grade lines. An error of the queue, not of the route, is no gap of the
// answer but aborts the survey; one of a survey that is ending for another reason hides no reason.
func (f *finishWorker) gradeLines(abort func(error)) func(context.Context, *routes.Route) (survey.GradeLine, error) {
	return func(ctx context.Context, r *routes.Route) (survey.GradeLine, error) {
		line, failed, err := f.gradeLine(ctx, r)
		if err != nil && ctx.Err() == nil {
			abort(err)
		}
		return line, errors.Join(err, failed)
	}
}

// gradeLine reads the grade line of a route. failed is why the route has none.
func (f *finishWorker) gradeLine(ctx context.Context, r *routes.Route) (line survey.GradeLine, failed, err error) {
	b, err := packRoute(r)
	if err != nil {
		return line, nil, err
	}
	var packed, ahead []byte
	var why string
	err = retried(ctx, func(ctx context.Context) error {
		return f.runner.q.pool.QueryRow(ctx, `SELECT g.packed, g.failed, a.packed FROM route r JOIN grade_line g ON g.run = r.run AND g.seq = r.seq
			LEFT JOIN ahead a ON a.run = r.run AND a.seq = r.seq
			WHERE r.run = $1 AND r.key = $2 ORDER BY r.seq LIMIT 1`, f.run.id, keyOf(b)).Scan(&packed, &why, &ahead)
	})
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return line, nil, refusal(fmt.Sprintf("route %q was not queued like this: the road file has changed since", r.ID), "queue the survey again")
	case err != nil:
		return line, nil, err
	case why != "":
		return line, errors.New(why), nil
	}
	if line, err = unpackLine(packed); err == nil && ahead != nil {
		line.Ahead, err = unpackAhead(ahead)
	}
	return line, nil, err
}

// retried asks again where the connection was lost: reading does nothing twice.
func retried(ctx context.Context, ask func(context.Context) error) error {
	for wait := 200 * time.Millisecond; ; wait *= 2 {
		one, cancel := context.WithTimeout(ctx, askWait)
		err := ask(one)
		cancel()
		if err == nil || !isLost(err) || ctx.Err() != nil || wait > longestWait {
			return err
		}
		pause(ctx, wait)
	}
}

const longestWait = 30 * time.Second

// markFinished stores the outcome, drops the records, and completes the job.
func (f *finishWorker) markFinished(ctx context.Context, job *river.Job[finishArgs], s *survey.Job) error {
	var gaps [][]any
	for words, err := range s.Gaps() {
		if err != nil {
			return err
		}
		gaps = append(gaps, []any{f.run.id, int32(len(gaps)), words})
	}
	surveyed, _ := s.Count()
	warnings := append([]string{}, s.Warnings()...)
	return pgx.BeginFunc(ctx, f.runner.q.pool, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE run SET finished_at = now(), settled = $2, surveyed = $2, problem = '',
			warnings = ARRAY(SELECT DISTINCT w FROM (SELECT unnest($3::text[]) UNION SELECT unnest(warnings) FROM batch WHERE run = $1) AS all_words(w) ORDER BY w)
			WHERE id = $1 AND finished_at IS NULL`, f.run.id, surveyed, warnings)
		if err != nil || tag.RowsAffected() == 0 {
			return err
		}
		for some := range slices.Chunk(gaps, jobsAtOnce) {
			if _, err := tx.CopyFrom(ctx, pgx.Identifier{"gap"}, []string{"run", "n", "words"}, pgx.CopyFromRows(some)); err != nil {
				return err
			}
		}
		for _, table := range []string{"grade_line", "ahead", "route"} {
			if _, err := tx.Exec(ctx, "DELETE FROM "+table+" WHERE run = $1", f.run.id); err != nil {
				return err
			}
		}
		if _, err := tx.Exec(ctx, "DELETE FROM river_job WHERE queue IN ($1, $2) AND state <> 'running'", lineQueue(f.run.id), aheadQueue(f.run.id)); err != nil {
			return err
		}
		_, err = river.JobCompleteTx[*riverpgxv5.Driver](ctx, tx, job)
		return err
	})
}

// complete ends a job whose run is finished already.
func (f *finishWorker) complete(ctx context.Context, job *river.Job[finishArgs]) error {
	return pgx.BeginFunc(ctx, f.runner.q.pool, func(tx pgx.Tx) error {
		_, err := river.JobCompleteTx[*riverpgxv5.Driver](ctx, tx, job)
		return err
	})
}
