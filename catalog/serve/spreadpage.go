package serve

import (
	"context"
	"net/http"
	"sync"
	"time"

	"gradeline/catalog/answer"
	"gradeline/catalog/spread"
	"gradeline/catalog/wording"
)

// spreadRuns shows the surveys that are spread over machines. Visitors only read.
type spreadRuns struct {
	status func(context.Context) ([]spread.Progress, error) // nil without a queue

	mu      sync.Mutex
	lookAt  time.Time // of the next look
	isThere bool      // a queue was there at the last look
}

// Limits of the page's questions to the database.
const (
	spreadLookEvery = 10 * time.Second
	spreadLookTime  = 10 * time.Second
)

// isShown reports whether there is a queue, so that pages have a link to its surveys. It never waits:
// a look at the database is for the pages after this one.
func (k *spreadRuns) isShown() bool {
	if k.status == nil {
		return false
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if now := time.Now(); now.After(k.lookAt) {
		k.lookAt = now.Add(spreadLookEvery)
		go func() {
			ctx, cancel := context.WithTimeout(context.Background(), spreadLookTime)
			defer cancel()
			_, _ = k.read(ctx) // whoever opens the page is told of a fault
		}()
	}
	return k.isThere
}

// read asks the database and notes whether it has a queue.
func (k *spreadRuns) read(ctx context.Context) ([]spread.Progress, error) {
	list, err := k.status(ctx)
	if err == nil {
		k.mu.Lock()
		defer k.mu.Unlock()
		k.isThere = list != nil
	}
	return list, err
}

// spreadView is the page of surveys over several machines.
type spreadView struct {
	frame
	Runs     []spreadRow
	IsMoving bool // some have not ended
}

// spreadRow is one survey in words.
type spreadRow struct {
	Words     string
	Done, All float64 // metres of road with a grade line
	IsMoving  bool
	Lines     []string // routes that were set aside, and warnings
}

func (s *Server) spreadPage(w http.ResponseWriter, r *http.Request) {
	if s.spread.status == nil {
		s.refuse(w, r, http.StatusNotFound, "This server knows no surveys over several machines.", "Start it with --queue, or on a catalogue in a database.")
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), spreadLookTime)
	defer cancel()
	list, err := s.spread.read(ctx)
	if err != nil {
		s.tell(err)
		s.refuse(w, r, http.StatusServiceUnavailable, "The database with the surveys cannot be read.", "Load the page again in a moment; the server's terminal has the details.")
		return
	}
	if list == nil {
		s.refuse(w, r, http.StatusNotFound, "The database has no surveys over several machines.", "gradeline survey --spread queues one.")
		return
	}
	v := &spreadView{frame: s.frame(r, "Machines")}
	for i := range list {
		p := &list[i]
		row := spreadRow{Words: wording.Plain(answer.SpreadLine(p, v.Units)), Done: p.DoneM, All: p.LengthM, IsMoving: p.State != spread.Finished && p.State != spread.Failed}
		for _, l := range answer.SetAsideLines(p) {
			row.Lines = append(row.Lines, wording.Plain(l))
		}
		for _, l := range p.Warnings {
			row.Lines = append(row.Lines, "warning: "+wording.Plain(l))
		}
		v.IsMoving = v.IsMoving || row.IsMoving
		v.Runs = append(v.Runs, row)
	}
	s.show(w, r, http.StatusOK, "spread", v)
}
