package answer

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/spread"
	"gradeline/catalog/wording"
)

// Spread is where a survey over several machines is.
type Spread struct {
	spread.Progress
	GapList []string `json:"gap_list"` // of a finished one
}

// SpreadRuns is where several are.
type SpreadRuns struct {
	Schema string   `json:"schema"`
	Runs   []Spread `json:"runs"`
}

// NewSpread is the answer about a run that has ended, with its gaps.
func NewSpread(ctx context.Context, q *spread.Queue, p spread.Progress) (*Spread, error) {
	gaps, err := q.Gaps(ctx, p.Run)
	return &Spread{Progress: p, GapList: append([]string{}, gaps...)}, err
}

// Failure is the error of a run that failed; nil for another.
func (a *Spread) Failure() error {
	if a.State != spread.Failed {
		return nil
	}
	return &catalog.Fault{What: "the survey failed: " + a.Problem, Fix: "put it right, then gradeline work --again with its number"}
}

// QueuedLine says what was queued, and who takes part.
func QueuedLine(q *spread.Queued) string {
	return fmt.Sprintf("run %d: %d routes, %.1f km, in %d jobs; gradeline work on any machine with the terrain takes part", q.Run, q.Routes, q.LengthM/1000, q.Jobs)
}

// SpreadRunsOf is the answer about some runs.
func SpreadRunsOf(list []spread.Progress) *SpreadRuns {
	a := &SpreadRuns{Schema: catalog.Schema, Runs: []Spread{}}
	for _, p := range list {
		a.Runs = append(a.Runs, Spread{Progress: p})
	}
	return a
}

// WriteText writes a line for each, and what needs a person.
func (a *SpreadRuns) WriteText(w io.Writer, u catalog.Units) error {
	if len(a.Runs) == 0 {
		_, err := fmt.Fprintln(w, "no survey is queued or in work")
		return err
	}
	for i := range a.Runs {
		if err := a.Runs[i].WriteText(w, u); err != nil {
			return err
		}
	}
	return nil
}

// WriteText writes a line, the warnings and the routes that were set aside.
func (a *Spread) WriteText(w io.Writer, u catalog.Units) error {
	_, err := fmt.Fprintln(w, SpreadLine(&a.Progress, u))
	for _, l := range SetAsideLines(&a.Progress) {
		if err == nil {
			_, err = fmt.Fprintln(w, "  "+l)
		}
	}
	return err
}

// SetAsideLines are the routes of a run that were set aside, with their messages; not all of many.
func SetAsideLines(p *spread.Progress) []string {
	var out []string
	for _, l := range p.FirstAside {
		out = append(out, "set aside: "+wording.OneLine(l))
	}
	if n := p.SetAside - len(p.FirstAside); n > 0 {
		out = append(out, fmt.Sprintf("set aside: and %d more", n))
	}
	return out
}

// SpreadLine says in one line where a survey over several machines is.
func SpreadLine(p *spread.Progress, u catalog.Units) string {
	parts := []string{fmt.Sprintf("run %d: %s", p.Run, p.State)}
	add := func(format string, v ...any) { parts = append(parts, fmt.Sprintf(format, v...)) }
	switch p.State {
	case spread.Finished:
		add("%d of %d routes surveyed, %s, in %s", p.Settled, p.Routes, farText(p.LengthM, u), durationText(p.TimeTakenS))
		if p.Gaps > 0 {
			add("%d gaps", p.Gaps)
		}
	case spread.Failed:
		add("%s", wording.OneLine(p.Problem))
	case spread.Ahead:
		add("all grade lines are there; hills that continue in other roads: %d of %d jobs", p.AheadDone, p.AheadJobs)
	case spread.Finishing:
		add("all grade lines are there; %d of %d routes settled and stored", p.Settled, p.Routes)
	default:
		add("%d of %d jobs, %s of %s", p.JobsDone, p.Jobs, farText(p.DoneM, u), farText(p.LengthM, u))
	}
	if p.State == spread.Waiting {
		add("no worker takes part: start gradeline work where the terrain is")
	}
	if p.State == spread.Working || p.State == spread.Ahead || p.State == spread.Finishing {
		add("%d %s", p.Workers, map[bool]string{true: "worker", false: "workers"}[p.Workers == 1])
	}
	if p.State == spread.Working && p.TimeLeftS > 0 {
		add("%s a second", farText(p.RateMPS, u))
		add("%s left for grade lines", durationText(p.TimeLeftS))
	}
	if p.Troubled > 0 {
		add("%d routes failed and are tried again", p.Troubled)
	}
	if p.SetAside > 0 {
		add("%d routes are set aside", p.SetAside)
	}
	if p.Problem != "" && p.State != spread.Failed {
		add("last failure: %s", wording.OneLine(p.Problem))
	}
	return strings.Join(parts, "; ")
}

// farText is a length of many roads.
func farText(lengthM float64, u catalog.Units) string {
	if u == catalog.US {
		return fmt.Sprintf("%.1f mi", catalog.MiFromM(lengthM))
	}
	return fmt.Sprintf("%.1f km", lengthM/1000)
}

func durationText(s float64) string {
	return (time.Duration(s) * time.Second).String()
}
