package spread

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
)

// schema holds the tables of the queue and those of River, apart from everything else in the
// database.
const schema = "gradeline_queue"

// layoutVersion is that of the tables below.
const layoutVersion = 2

// layoutLock is the key of the advisory lock of those who make or change the tables.
const layoutLock = 0x6772_6164_6571

// layoutSQL makes the tables. Times are the database's alone: machines' clocks differ.
const layoutSQL = `
CREATE TABLE layout (version integer PRIMARY KEY, made_at timestamptz NOT NULL DEFAULT now());
CREATE TABLE run (
  id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
  queued_at timestamptz NOT NULL DEFAULT now(),
  tool text NOT NULL,
  settings jsonb NOT NULL,
  prints jsonb NOT NULL,
  routes integer NOT NULL DEFAULT 0,
  batches integer NOT NULL DEFAULT 0,
  length_m double precision NOT NULL DEFAULT 0,
  settled integer NOT NULL DEFAULT 0,
  finish_tries integer NOT NULL DEFAULT 0,
  problem text NOT NULL DEFAULT '',
  lines_at timestamptz,
  finished_at timestamptz,
  failed_at timestamptz,
  surveyed integer NOT NULL DEFAULT 0,
  warnings text[] NOT NULL DEFAULT '{}');
CREATE TABLE route (
  run bigint NOT NULL REFERENCES run ON DELETE CASCADE,
  seq integer NOT NULL,
  id text NOT NULL,
  key text NOT NULL,
  length_m real NOT NULL,
  packed bytea NOT NULL,
  tries smallint NOT NULL DEFAULT 0,
  problem text NOT NULL DEFAULT '',
  PRIMARY KEY (run, seq));
ALTER TABLE route ALTER packed SET STORAGE EXTERNAL;
CREATE INDEX route_key ON route (run, key);
CREATE INDEX route_tries ON route (run) WHERE tries > 0;
CREATE TABLE batch (
  run bigint NOT NULL REFERENCES run ON DELETE CASCADE,
  batch integer NOT NULL,
  seqs integer[] NOT NULL,
  length_m double precision NOT NULL,
  done_at timestamptz,
  worker text NOT NULL DEFAULT '',
  warnings text[] NOT NULL DEFAULT '{}',
  PRIMARY KEY (run, batch));
CREATE INDEX batch_left ON batch (run) WHERE done_at IS NULL;
CREATE INDEX batch_done ON batch (run, done_at);
CREATE TABLE grade_line (
  run bigint NOT NULL REFERENCES run ON DELETE CASCADE,
  seq integer NOT NULL,
  packed bytea,
  failed text NOT NULL DEFAULT '',
  done_at timestamptz NOT NULL DEFAULT now(),
  PRIMARY KEY (run, seq),
  CHECK ((packed IS NULL) = (failed <> '')));
ALTER TABLE grade_line ALTER packed SET STORAGE EXTERNAL;
CREATE TABLE gap (
  run bigint NOT NULL REFERENCES run ON DELETE CASCADE,
  n integer NOT NULL,
  words text NOT NULL,
  PRIMARY KEY (run, n));
CREATE TABLE worker (
  id text PRIMARY KEY,
  host text NOT NULL,
  run bigint,
  started_at timestamptz NOT NULL DEFAULT now(),
  seen_at timestamptz NOT NULL DEFAULT now(),
  note text NOT NULL DEFAULT '');
INSERT INTO layout (version) VALUES (1);`

// layoutSteps bring the tables of a version to the next one.
var layoutSteps = []string{1: `
ALTER TABLE run ADD ahead_at timestamptz;
ALTER TABLE route ADD is_joined boolean NOT NULL DEFAULT false;
ALTER TABLE batch ADD is_joined boolean NOT NULL DEFAULT false, ADD ahead_at timestamptz;
CREATE INDEX batch_ahead_left ON batch (run) WHERE is_joined AND ahead_at IS NULL;
CREATE TABLE ahead (
  run bigint NOT NULL REFERENCES run ON DELETE CASCADE,
  seq integer NOT NULL,
  packed bytea NOT NULL,
  PRIMARY KEY (run, seq));
ALTER TABLE ahead ALTER packed SET STORAGE EXTERNAL;
INSERT INTO layout (version) VALUES (2);`}

// makeLayout makes the schema and its tables, or checks those that are there.
func (q *Queue) makeLayout(ctx context.Context) error {
	conn, err := q.pool.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", int64(layoutLock)); err != nil {
		return err
	}
	defer func() { _, _ = conn.Exec(ctx, "SELECT pg_advisory_unlock($1)", int64(layoutLock)) }() // ends with the connection
	version, err := q.layout(ctx)
	if err == nil && version > 0 && version < layoutVersion {
		return bringUp(ctx, conn.Conn(), version)
	}
	if err == nil {
		err = checkVersion(version)
	}
	if !errors.Is(err, errNoQueue) {
		return err
	}
	if _, err := conn.Exec(ctx, "CREATE SCHEMA IF NOT EXISTS "+schema); err != nil {
		return err
	}
	m, err := rivermigrate.New(riverpgxv5.New(q.pool), &rivermigrate.Config{Schema: schema, Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	if _, err := m.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return err
	}
	return bringUp(ctx, conn.Conn(), 0)
}

// bringUp brings the tables from a version to the present one, all or nothing; from 0 it makes them.
func bringUp(ctx context.Context, conn *pgx.Conn, version int) error {
	return pgx.BeginFunc(ctx, conn, func(tx pgx.Tx) error {
		steps := layoutSteps[max(1, version):]
		if version == 0 {
			steps = append([]string{layoutSQL}, steps...)
		}
		for _, sql := range steps {
			if _, err := tx.Exec(ctx, sql); err != nil {
				return err
			}
		}
		return nil
	})
}

var errNoQueue = errors.New("the database has no queue of surveys")

// checkLayout refuses tables of another version.
func (q *Queue) checkLayout(ctx context.Context) error {
	version, err := q.layout(ctx)
	if err != nil {
		return err
	}
	return checkVersion(version)
}

// layout is the version of the tables; 0 where there are none.
func (q *Queue) layout(ctx context.Context) (version int, err error) {
	var isThere bool
	if err := q.pool.QueryRow(ctx, "SELECT to_regclass($1) IS NOT NULL", schema+".layout").Scan(&isThere); err != nil || !isThere {
		return 0, err
	}
	err = q.pool.QueryRow(ctx, "SELECT max(version) FROM layout").Scan(&version)
	return version, err
}

func checkVersion(version int) error {
	switch {
	case version == 0:
		return errNoQueue
	case version < layoutVersion:
		return refusal(fmt.Sprintf("the queue in the database is of version %d, this program knows version %d", version, layoutVersion), "queue a survey with this program, as the user who made the queue: that brings its tables up to date")
	case version > layoutVersion:
		return refusal(fmt.Sprintf("the queue in the database is of version %d, this program knows version %d", version, layoutVersion), "run the same version of the program on every machine")
	}
	return nil
}

// Grants are the SQL statements that let a database role take part as a worker and watch, and
// nothing else.
func Grants(role string) []string {
	role = pgx.Identifier{role}.Sanitize()
	return []string{
		"GRANT USAGE ON SCHEMA " + schema + " TO " + role + ";",
		"GRANT SELECT ON ALL TABLES IN SCHEMA " + schema + " TO " + role + ";",
		"GRANT UPDATE (settled, finish_tries, problem, lines_at, ahead_at, finished_at, failed_at, surveyed, warnings) ON " + schema + ".run TO " + role + ";",
		"GRANT UPDATE (tries, problem), DELETE ON " + schema + ".route TO " + role + ";",
		"GRANT UPDATE (done_at, ahead_at, worker, warnings) ON " + schema + ".batch TO " + role + ";",
		"GRANT INSERT, DELETE ON " + schema + ".grade_line, " + schema + ".ahead, " + schema + ".gap TO " + role + ";",
		"GRANT INSERT, UPDATE, DELETE ON " + schema + ".worker, " + schema + ".river_job, " + schema + ".river_queue TO " + role + ";",
		"GRANT USAGE ON SEQUENCE " + schema + ".river_job_id_seq TO " + role + ";",
	}
}
