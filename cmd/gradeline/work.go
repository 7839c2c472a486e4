package main

import (
	"cmp"
	"fmt"
	"os"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/spread"
	"gradeline/cmd/commandline"
)

func (s *session) workCommand() *cli.Command {
	return &cli.Command{
		Name: "work", Usage: "take part in surveys that are spread over machines, until interrupted",
		Flags: []cli.Flag{catalogFlag(), queueFlag(),
			&cli.StringFlag{Name: "folder", Usage: "`FOLDER` that the names of terrain and roads are relative to; default the current one"},
			&cli.IntFlag{Name: "workers", Usage: "routes at once; default as many as there are cores"},
			&cli.StringFlag{Name: "cache", Value: "96", Usage: "memory for decoded blocks in `MIB`"},
			&cli.StringFlag{Name: "memory", Usage: "limit of the memory of the finishing job as a `SIZE`, as in 512MiB"},
			&cli.BoolFlag{Name: "remote", Usage: "allow terrain and routes at network addresses; their credentials are set for GDAL, as in AWS_ACCESS_KEY_ID"},
			&cli.BoolFlag{Name: "until-empty", Usage: "end when no survey is left that this machine fits"},
			&cli.BoolFlag{Name: "status", Usage: "list the surveys that are queued or in work, and end"},
			&cli.StringFlag{Name: "grants", Usage: "print the SQL that lets the database's `ROLE` take part, and nothing more, and end"},
			&cli.Int64Flag{Name: "again", Usage: "let the `RUN` that failed be finished again, and end"},
			&cli.Int64Flag{Name: "drop", Usage: "remove the `RUN` from the queue, and end; what is in the catalogue stays"},
			jsonFlag(), unitsFlag()},
		Action: s.work,
	}
}

func queueFlag() cli.Flag {
	return &cli.StringFlag{Name: "queue", Usage: "`ADDRESS` of the database with the queue of surveys, where it is not the catalogue's"}
}

// queueAddress is the address of the queue that the flags name; a file's name where they name none.
func queueAddress(c *cli.Context) string { return cmp.Or(c.String("queue"), c.String("catalog")) }

// openQueue opens the queue that the flags name.
func (s *session) openQueue(c *cli.Context, o spread.Options) (*spread.Queue, error) {
	address := queueAddress(c)
	if !spread.IsAddress(address) {
		return nil, usagef("the queue of surveys is in a PostgreSQL database: name it by --catalog or --queue, as in postgres://USER@HOST/DATABASE")
	}
	return spread.Open(c.Context, address, o)
}

func (s *session) work(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	if role := c.String("grants"); role != "" {
		for _, line := range spread.Grants(role) {
			fmt.Fprintln(s.out, line)
		}
		return nil
	}
	m, err := s.machine(c)
	if err != nil {
		return err
	}
	q, err := s.openQueue(c, spread.Options{Connections: m.Workers + 6})
	if err != nil {
		return err
	}
	defer q.Close()
	switch {
	case c.Bool("status"):
		return s.workStatus(c, q)
	case c.IsSet("drop"):
		return q.Drop(c.Context, c.Int64("drop"))
	case c.IsSet("again"):
		return q.Again(c.Context, c.Int64("again"))
	}
	if folder := c.String("folder"); folder != "" {
		if err := os.Chdir(folder); err != nil {
			return usagef("--folder: %v", err)
		}
	}
	return q.Work(c.Context, m)
}

// machine reads what this worker brings along.
func (s *session) machine(c *cli.Context) (m spread.Machine, err error) {
	m = spread.Machine{Catalog: c.String("catalog"), AllowRemote: c.Bool("remote"), UntilEmpty: c.Bool("until-empty"),
		Say: func(words string) { s.say("%s", words) }}
	if m.Workers, err = commandline.Count(c, "workers"); err != nil {
		return m, err
	}
	if m.CacheBytes, err = cacheBytes(c); err != nil {
		return m, err
	}
	m.MemoryBytes, err = memoryBytes(c)
	return m, err
}

func (s *session) workStatus(c *cli.Context, q *spread.Queue) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	list, err := q.Unfinished(c.Context)
	if err != nil {
		return err
	}
	return s.answer(c, answer.SpreadRunsOf(list), u)
}

const watchEvery = time.Second
