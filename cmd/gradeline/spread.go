package main

import (
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/spread"
	"gradeline/cmd/commandline"
)

// spreadFlags turn a survey into jobs for several machines.
func spreadFlags() []cli.Flag {
	return []cli.Flag{
		&cli.BoolFlag{Name: "spread", Usage: "queue the survey in a database for gradeline work on any number of machines; return when it is queued"},
		&cli.BoolFlag{Name: "watch", Usage: "wait for a spread survey and show where it is; without --spread and ROUTES, the newest one"},
		&cli.Int64Flag{Name: "run", Usage: "number of the `RUN` to watch"},
		queueFlag(),
	}
}

// spread queues a survey.
func (s *session) spread(c *cli.Context) error {
	setup, err := s.surveySetup(c)
	if err != nil {
		return err
	}
	q, err := s.openQueue(c, spread.Options{Create: true})
	if err != nil {
		return err
	}
	defer q.Close()
	run, err := q.Spread(c.Context, setup)
	if err != nil {
		return err
	}
	s.say("%s", answer.QueuedLine(&run))
	if c.Bool("watch") {
		return s.watchRun(c, q, run.Run)
	}
	p, err := q.Progress(c.Context, run.Run)
	if err != nil {
		return err
	}
	return s.answer(c, &answer.Spread{Progress: p}, setup.Units)
}

// watch waits for the end of a run.
func (s *session) watch(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no routes: --spread queues them"); err != nil {
		return err
	}
	q, err := s.openQueue(c, spread.Options{})
	if err != nil {
		return err
	}
	defer q.Close()
	run := c.Int64("run")
	if run == 0 {
		if run, err = q.LastRun(c.Context); err != nil {
			return err
		}
	}
	return s.watchRun(c, q, run)
}

func (s *session) watchRun(c *cli.Context, q *spread.Queue, run int64) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	bar := s.newProgress("")
	p, err := q.Watch(c.Context, run, watchEvery, func(p *spread.Progress, err error) {
		if err != nil {
			bar.line(err.Error())
		} else {
			bar.line(answer.SpreadLine(p, u))
		}
	})
	bar.end()
	if err != nil {
		return err
	}
	return s.watched(c, q, p, u)
}

// watched gives the answer of a run that has ended.
func (s *session) watched(c *cli.Context, q *spread.Queue, p spread.Progress, u catalog.Units) error {
	a, err := answer.NewSpread(c.Context, q, p)
	if err != nil {
		return err
	}
	if err := s.answer(c, a, u); err != nil {
		return err
	}
	for _, w := range p.Warnings {
		s.say("warning: %s", w)
	}
	gaps := s.sayGaps(a.GapList)
	if err := a.Failure(); err != nil {
		return err
	}
	return gaps
}

// longLineEvery is how often progress is said where it is not a terminal.
const longLineEvery = 30 * time.Second
