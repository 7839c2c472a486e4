package spread

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"

	"gradeline/catalog/survey"
	"gradeline/terrain/raster"
)

// aheadWorker surveys the lines over several roads in which hills of a batch's routes continue, when
// all grade lines are in. Its records spare the finishing job that work and change no figure: that
// job finds them by what the line is made from, and surveys a line itself that is not among them. So
// a batch that fails again and again is left to it.
type aheadWorker struct {
	river.WorkerDefaults[aheadArgs]
	runner  *runner
	run     *openRun
	surface *raster.Surface

	mu    sync.Mutex
	ahead *survey.Ahead // nil until the first job needs the roads
}

// mostAheadTries is how often the work of a batch may begin before it is left to the finishing job.
const mostAheadTries = 3

// NextRetry is when a job is tried again whose worker failed.
func (a *aheadWorker) NextRetry(*river.Job[aheadArgs]) time.Time {
	return a.runner.clock.Now().Add(retryAfter)
}

// Work does a batch. The records go in with the job's completion.
func (a *aheadWorker) Work(ctx context.Context, job *river.Job[aheadArgs]) error {
	var records []aheadRecord
	if job.Attempt <= mostAheadTries {
		var err error
		if records, err = a.survey(ctx, job.Args); err != nil {
			if ctx.Err() != nil {
				return river.JobSnooze(0)
			}
			return err
		}
	}
	if err := a.store(ctx, job, records); err != nil {
		if ctx.Err() != nil {
			return river.JobSnooze(0)
		}
		return err
	}
	return nil
}

// aheadRecord is what is known of the lines over several roads of one route.
type aheadRecord struct {
	seq    int32
	packed []byte
}

// survey surveys the lines of a batch. A route that fails has no record.
func (a *aheadWorker) survey(ctx context.Context, args aheadArgs) ([]aheadRecord, error) {
	rows, err := a.runner.q.pool.Query(ctx, `SELECT r.seq, r.packed, g.packed FROM batch b CROSS JOIN unnest(b.seqs) WITH ORDINALITY AS s(seq, n)
		JOIN route r ON r.run = b.run AND r.seq = s.seq JOIN grade_line g ON g.run = r.run AND g.seq = r.seq
		WHERE b.run = $1 AND b.batch = $2 AND b.ahead_at IS NULL AND r.is_joined AND g.packed IS NOT NULL ORDER BY s.n`, args.Run, args.Batch)
	if err != nil {
		return nil, err
	}
	type routeLine struct {
		seq         int32
		route, line []byte
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (r routeLine, err error) {
		return r, row.Scan(&r.seq, &r.route, &r.line)
	})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	ahead, err := a.opened(ctx)
	if err != nil {
		return nil, err
	}
	var out []aheadRecord
	for _, one := range list {
		packed, err := surveyAhead(ctx, ahead, one.route, one.line)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err == nil && packed != nil {
			out = append(out, aheadRecord{one.seq, packed})
		}
	}
	return out, nil
}

// opened reads and joins the roads once.
func (a *aheadWorker) opened(ctx context.Context) (*survey.Ahead, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.ahead == nil {
		s := a.run.settings.setup(a.run.tool, &a.runner.m)
		ahead, err := survey.NewAhead(ctx, a.surface, &s)
		if err != nil {
			return nil, err
		}
		a.ahead = ahead
	}
	return a.ahead, nil
}

// surveyAhead makes the record of one route; nil where it has no line over several roads.
func surveyAhead(ctx context.Context, ahead *survey.Ahead, route, line []byte) ([]byte, error) {
	r, err := unpackRoute(route)
	if err != nil {
		return nil, err
	}
	l, err := unpackLine(line)
	if err != nil {
		return nil, err
	}
	found, err := linesAhead(ahead, ctx, r, l)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	return packAhead(found)
}

// linesAhead is replaced by tests of routes that end the process.
var linesAhead = (*survey.Ahead).Lines

// packAhead is a record of lines over several roads.
func packAhead(lines map[string]survey.OnwardLine) ([]byte, error) {
	text, err := json.Marshal(lines)
	if err != nil {
		return nil, err
	}
	b, err := squeezed(text)
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, crcTable)), err
}

func unpackAhead(b []byte) (map[string]survey.OnwardLine, error) {
	n := len(b) - 4
	if n < 0 || crc32.Checksum(b[:n], crcTable) != binary.LittleEndian.Uint32(b[n:]) {
		return nil, errDamaged
	}
	text, err := unsqueezed(b[:n])
	if err != nil {
		return nil, err
	}
	var out map[string]survey.OnwardLine
	if json.Unmarshal(text, &out) != nil {
		return nil, errDamaged
	}
	return out, nil
}

// store puts the records in and completes the job, all or nothing.
func (a *aheadWorker) store(ctx context.Context, job *river.Job[aheadArgs], records []aheadRecord) error {
	return storeBatch(ctx, a.runner.q.pool, job, "ahead_at", job.Args.Run, job.Args.Batch, func(b *pgx.Batch) bool {
		for _, r := range records {
			b.Queue("INSERT INTO ahead (run, seq, packed) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING", job.Args.Run, r.seq, r.packed)
		}
		b.Queue("UPDATE batch SET ahead_at = now() WHERE run = $1 AND batch = $2", job.Args.Run, job.Args.Batch)
		return true
	})
}

// insertAhead queues the jobs of a run for lines over several roads.
func insertAhead(ctx context.Context, tx pgx.Tx, client *river.Client[pgx.Tx], run int64) error {
	rows, err := tx.Query(ctx, "SELECT batch FROM batch WHERE run = $1 AND is_joined AND ahead_at IS NULL ORDER BY batch", run)
	if err != nil {
		return err
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[int32])
	if err != nil {
		return err
	}
	var jobs []river.InsertManyParams
	for _, batch := range list {
		jobs = append(jobs, river.InsertManyParams{Args: aheadArgs{run, batch}, InsertOpts: &river.InsertOpts{Queue: aheadQueue(run), MaxAttempts: mostTries}})
	}
	for some := range slices.Chunk(jobs, jobsAtOnce) {
		if _, err := client.InsertManyFastTx(ctx, tx, some); err != nil {
			return err
		}
	}
	return nil
}
