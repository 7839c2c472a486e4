package spread

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivertype"
)

// A worker that ends without a word leaves its jobs as running. The others see that it no longer
// beats, by the database's clock, and make its jobs available again. A worker that was only cut off
// may finish the same job a second time; the table of batches lets the first have effect.

// beat shows that this worker lives.
func (w *runner) beat(ctx context.Context, run int64) error {
	ctx, cancel := context.WithTimeout(ctx, askWait)
	defer cancel()
	_, err := w.q.pool.Exec(ctx, `INSERT INTO worker (id, host, run) VALUES ($1, $2, $3)
		ON CONFLICT (id) DO UPDATE SET seen_at = now(), run = $3`, w.id, w.host, run)
	if err == nil {
		_, err = w.q.pool.Exec(ctx, "DELETE FROM worker WHERE seen_at < now() - interval '1 hour'")
	}
	if n := w.settled.Load(); err == nil && n > 0 {
		_, err = w.q.pool.Exec(ctx, "UPDATE run SET settled = $2 WHERE id = $1", run, n)
	}
	return err
}

// signOff removes the worker from the list of those that live.
func (w *runner) signOff() {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	_, _ = w.q.pool.Exec(ctx, "DELETE FROM worker WHERE id = $1", w.id) // else it is given up after a while
}

// rescue makes the jobs of lost workers available again.
func (w *runner) rescue(ctx context.Context, client *river.Client[pgx.Tx], run int64) error {
	ctx, cancel := context.WithTimeout(ctx, askWait)
	defer cancel()
	return pgx.BeginFunc(ctx, w.q.pool, func(tx pgx.Tx) error {
		var now time.Time
		if err := tx.QueryRow(ctx, "SELECT now()").Scan(&now); err != nil {
			return err
		}
		before := now.Add(-w.m.LostAfter)
		rows, err := tx.Query(ctx, `SELECT id, attempt FROM river_job j WHERE state = 'running' AND queue IN ($1, $2, $4) AND attempted_at < $3
			AND pg_postmaster_start_time() < $3 -- nobody could beat before that
			AND NOT EXISTS (SELECT FROM worker w WHERE w.id = j.attempted_by[array_length(j.attempted_by, 1)] AND w.seen_at >= $3)
			ORDER BY id FOR UPDATE SKIP LOCKED`, lineQueue(run), finishQueue(run), before, aheadQueue(run))
		if err != nil {
			return err
		}
		p := riverdriver.JobRescueManyParams{Schema: schema, StuckHorizon: before}
		var id int64
		var attempt int
		_, err = pgx.ForEachRow(rows, []any{&id, &attempt}, func() error {
			text, err := json.Marshal(rivertype.AttemptError{At: now, Attempt: attempt, Error: fmt.Sprintf("its worker was not heard of for %s", w.m.LostAfter)})
			p.ID, p.Error, p.FinalizedAt = append(p.ID, id), append(p.Error, text), append(p.FinalizedAt, nil)
			p.ScheduledAt, p.State = append(p.ScheduledAt, now), append(p.State, string(rivertype.JobStateAvailable))
			return err
		})
		if err != nil || len(p.ID) == 0 {
			return err
		}
		_, err = client.Driver().UnwrapExecutor(tx).JobRescueMany(ctx, &p)
		return err
	})
}
