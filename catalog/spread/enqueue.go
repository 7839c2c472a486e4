package spread

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"slices"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"

	"gradeline/catalog/shared"
	"gradeline/catalog/survey"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain/raster"
)

// lineArgs is the job of one batch: the grade lines of its routes.
type lineArgs struct {
	Run   int64 `json:"run"`
	Batch int32 `json:"batch"`
}

// Kind names the job for River.
func (lineArgs) Kind() string { return "gradeline_lines" }

// aheadArgs is the job of one batch after that: the lines over several roads in which hills of its
// routes continue.
type aheadArgs struct {
	Run   int64 `json:"run"`
	Batch int32 `json:"batch"`
}

// Kind names the job for River.
func (aheadArgs) Kind() string { return "gradeline_ahead" }

// finishArgs is the job that settles a run when all others are done.
type finishArgs struct {
	Run int64 `json:"run"`
}

// Kind names the job for River.
func (finishArgs) Kind() string { return "gradeline_finish" }

// Each run has queues of its own, so that a machine that does not fit a run never fetches its jobs.
func lineQueue(run int64) string   { return fmt.Sprintf("lines-%d", run) }
func aheadQueue(run int64) string  { return fmt.Sprintf("ahead-%d", run) }
func finishQueue(run int64) string { return fmt.Sprintf("finish-%d", run) }

// mostTries is how often River may try a job: the queue itself sets routes aside after few tries.
const mostTries = 30_000

// Queued says what was queued.
type Queued struct {
	Run     int64   `json:"run"`
	Routes  int     `json:"routes"`
	Jobs    int     `json:"jobs"`
	LengthM float64 `json:"length_m"`
}

// Spread queues a survey: all of it or, on an error, nothing.
func (q *Queue) Spread(ctx context.Context, s survey.Setup) (Queued, error) {
	if err := checkSpread(&s); err != nil {
		return Queued{}, err
	}
	own, err := printsOf(ctx, &s)
	if err != nil {
		return Queued{}, err
	}
	if IsAddress(s.Catalog) { // workers need not be allowed to make it
		if own.Catalog, err = shared.Make(ctx, s.Catalog, s.Tool); err != nil {
			return Queued{}, err
		}
	}
	c, err := q.clockOf(ctx)
	if err != nil {
		return Queued{}, q.fault("does not answer", err)
	}
	client, err := q.client(c, nil, nil)
	if err != nil {
		return Queued{}, q.fault("cannot be used", err)
	}
	var out Queued
	err = pgx.BeginFunc(ctx, q.pool, func(tx pgx.Tx) error {
		out = Queued{}
		settingsText, err := json.Marshal(settingsOf(&s))
		if err != nil {
			return err
		}
		printsText, err := json.Marshal(own)
		if err != nil {
			return err
		}
		if err := tx.QueryRow(ctx, "INSERT INTO run (tool, settings, prints) VALUES ($1, $2, $3) RETURNING id", s.Tool, settingsText, printsText).Scan(&out.Run); err != nil {
			return err
		}
		placed, err := copyRoutes(ctx, tx, out.Run, &s)
		if err != nil {
			return err
		}
		out.Routes = len(placed)
		list := batchesOf(placed, q.batchM)
		out.Jobs = len(list)
		for _, b := range list {
			out.LengthM += b.lengthM
		}
		if err := insertBatches(ctx, tx, client, out.Run, list); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, "UPDATE run SET routes = $2, batches = $3, length_m = $4 WHERE id = $1", out.Run, out.Routes, out.Jobs, out.LengthM)
		return err
	})
	return out, q.fault("cannot take the survey", err)
}

// printsOf are the prints of this machine with the files of a survey.
func printsOf(ctx context.Context, s *survey.Setup) (prints, error) {
	p, err := machinePrints()
	if err != nil {
		return p, err
	}
	if p.Roads, err = roadPrints(s.Roads); err != nil {
		return p, &routes.Fault{File: s.Roads[0], What: "the road file cannot be read", Err: err, Fix: "check the path"}
	}
	surface, err := raster.Open(ctx, s.Terrain, s.Raster)
	if err != nil {
		return p, err
	}
	defer surface.Close() // only read
	p.Rasters = rasterPrints(surface.Sources())
	return p, nil
}

// copyRoutes writes the routes as they are read and returns their places.
func copyRoutes(ctx context.Context, tx pgx.Tx, run int64, s *survey.Setup) ([]placedRoute, error) {
	roads := survey.ReadRoads(s.Roads, network.Options{Options: s.Lines, AsDrawn: s.AsDrawn})
	next, stop := iter.Pull2(roads.Routes(ctx))
	defer stop()
	var placed []placedRoute
	var fault error // of the road files, not of the database
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"route"}, []string{"run", "seq", "id", "key", "length_m", "packed", "is_joined"}, pgx.CopyFromFunc(func() ([]any, error) {
		r, err, ok := next()
		if !ok {
			return nil, nil
		}
		var b []byte
		if err == nil {
			b, err = packRoute(&r)
		}
		if err != nil {
			fault = err
			return nil, err
		}
		seq := int32(len(placed))
		p := placeRoute(seq, &r)
		p.isJoined = roads.IsJoined()
		placed = append(placed, p)
		return []any{run, seq, r.ID, keyOf(b), float32(r.LengthM), b, p.isJoined}, nil
	}))
	if fault != nil {
		return nil, fault
	}
	return placed, err
}

// jobsAtOnce is how many jobs are inserted with one statement.
const jobsAtOnce = 1000

func insertBatches(ctx context.Context, tx pgx.Tx, client *river.Client[pgx.Tx], run int64, list []batch) error {
	i := 0
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"batch"}, []string{"run", "batch", "seqs", "length_m", "is_joined"}, pgx.CopyFromFunc(func() ([]any, error) {
		if i == len(list) {
			return nil, nil
		}
		i++
		return []any{run, int32(i - 1), list[i-1].seqs, list[i-1].lengthM, list[i-1].isJoined}, nil
	}))
	if err != nil {
		return err
	}
	var jobs []river.InsertManyParams
	for i := range list {
		jobs = append(jobs, river.InsertManyParams{Args: lineArgs{run, int32(i)}, InsertOpts: &river.InsertOpts{Queue: lineQueue(run), MaxAttempts: mostTries}})
	}
	if len(jobs) == 0 { // an answer without routes is an answer too
		jobs = append(jobs, finishJob(run))
	}
	for some := range slices.Chunk(jobs, jobsAtOnce) {
		if _, err := client.InsertManyFastTx(ctx, tx, some); err != nil {
			return err
		}
	}
	return nil
}

// finishJob is one for a run however often it is inserted.
func finishJob(run int64) river.InsertManyParams {
	return river.InsertManyParams{Args: finishArgs{run}, InsertOpts: &river.InsertOpts{Queue: finishQueue(run), MaxAttempts: mostTries, UniqueOpts: river.UniqueOpts{ByArgs: true}}}
}
