package serve

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/survey"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// Work sets the surveys that may be started from the page: those of road files in folders that were
// named at the server's start, with its terrain and classes. Nothing is uploaded, and a visitor
// chooses a file only by its number.
type Work struct {
	Folders []string
	Setup   survey.Setup // everything except the road files and the person's name
}

// worker runs one survey at a time.
type worker struct {
	work  Work
	files []string // files that may be surveyed, in order
	ctx   context.Context
	end   context.CancelFunc // of all work, until the server ends
	done  sync.WaitGroup

	mu      sync.Mutex
	state   workState
	cancel  context.CancelFunc // stops the current survey; nil where none runs
	changed chan struct{}      // closed at the next change of state
}

// workState describes the current or the last survey on the page.
type workState struct {
	IsRunning bool     `json:"is_running"`
	Files     []string `json:"files"`
	By        string   `json:"by"`
	Routes    int      `json:"routes"` // done
	Words     string   `json:"words"`
	Gaps      []string `json:"gaps"`
}

// mostWorkFiles and mostGapsShown limit the page.
const (
	mostWorkFiles = 1000
	mostGapsShown = 200
)

// roadEndings are the endings of the files in the list.
var roadEndings = []string{".geojson", ".json", ".geojsonl", ".gpx", ".kml", ".shp", ".fgb", ".pbf", ".osm"}

// newWorker lists the files of the folders; nil without work.
func newWorker(w *Work) (*worker, error) {
	if w == nil {
		return nil, nil
	}
	k := &worker{work: *w, changed: make(chan struct{})}
	k.ctx, k.end = context.WithCancel(context.Background())
	for _, folder := range w.Folders {
		// A root prevents links that lead out of the folder.
		root, err := os.OpenRoot(folder)
		if err != nil {
			return nil, &catalog.Fault{Kind: terrain.ErrRead, File: folder, What: "cannot be opened", Err: err, Fix: "name a folder with road files"}
		}
		err = fs.WalkDir(root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !slices.Contains(roadEndings, strings.ToLower(filepath.Ext(name))) || len(k.files) == mostWorkFiles {
				return err
			}
			if info, err := root.Stat(name); err != nil || !info.Mode().IsRegular() {
				return nil // a link that leads out, or not a file
			}
			k.files = append(k.files, filepath.Join(folder, filepath.FromSlash(name)))
			return nil
		})
		root.Close()
		if err != nil {
			return nil, &catalog.Fault{Kind: terrain.ErrRead, File: folder, What: "cannot be listed", Err: err, Fix: "check its permissions"}
		}
	}
	return k, nil
}

// change changes the state and notifies visitors who watch it.
func (k *worker) change(f func(*workState)) {
	k.mu.Lock()
	defer k.mu.Unlock()
	f(&k.state)
	k.notify()
}

// notify wakes the visitors who watch; the caller holds the lock.
func (k *worker) notify() {
	close(k.changed)
	k.changed = make(chan struct{})
}

// now is the state, and the channel that is closed when it changes.
func (k *worker) now() (workState, <-chan struct{}) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.state, k.changed
}

// begin starts a survey of files by their numbers.
func (k *worker) begin(numbers []int, by string) error {
	setup := k.work.Setup
	var names []string
	for _, n := range numbers {
		if n < 0 || n >= len(k.files) {
			return typedWrong("there is no such file", "choose files of the list")
		}
		setup.Roads = append(setup.Roads, k.files[n])
		names = append(names, filepath.Base(k.files[n]))
	}
	if len(names) == 0 || by == "" {
		return typedWrong("the survey has no files or no name", "choose at least one file and enter your name")
	}
	setup.By = by
	setup.OnRoute = func(done int) { k.change(func(s *workState) { s.Routes = done }) }
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.state.IsRunning || k.ctx.Err() != nil {
		return &catalog.Fault{Kind: catalog.ErrBusy, What: "a survey is running", Fix: "wait for its end, or stop it"}
	}
	ctx, cancel := context.WithCancel(k.ctx)
	k.cancel = cancel
	k.state = workState{IsRunning: true, Files: names, By: by, Words: "begins", Gaps: []string{}}
	k.notify()
	k.done.Go(func() {
		defer cancel()
		words, gaps := k.run(ctx, setup)
		k.change(func(s *workState) { s.IsRunning, s.Words, s.Gaps = false, words, gaps })
	})
	return nil
}

// run surveys, and reports the end. A later survey of the same files continues where a stopped one
// ended.
func (k *worker) run(ctx context.Context, setup survey.Setup) (words string, gaps []string) {
	gaps = []string{}
	job, err := survey.Begin(ctx, setup)
	if err != nil {
		return failedWords(ctx, err), gaps
	}
	defer job.Close()
	if n, began := job.Earlier(); n > 0 {
		k.change(func(s *workState) {
			s.Words = fmt.Sprintf("continues the survey of %s: %s were finished", began.UTC().Format("2006-01-02 15:04 UTC"), wording.Counted(n, "route"))
		})
	} else {
		k.change(func(s *workState) { s.Words = "surveys" })
	}
	if err := job.Run(ctx); err != nil {
		return failedWords(ctx, err), gaps
	}
	for _, w := range job.Warnings() {
		gaps = append(gaps, "warning: "+wording.Plain(w))
	}
	for gap, err := range job.Gaps() {
		if err != nil {
			return failedWords(ctx, err), gaps
		}
		if len(gaps) == mostGapsShown {
			gaps = append(gaps, "and more: a survey at the terminal names all")
			break
		}
		gaps = append(gaps, wording.Plain(gap))
	}
	if len(gaps) > 0 {
		return "done, with gaps", gaps
	}
	return "done", gaps
}

func failedWords(ctx context.Context, err error) string {
	if ctx.Err() != nil {
		return "stopped before the end; finished routes are kept, and the next survey continues from there"
	}
	var f *catalog.Fault
	if errors.As(err, &f) { // without the folders of this machine
		return "failed: " + wording.Shortened(wording.Plain(strings.TrimSpace(f.Feature+" "+f.What)), 300)
	}
	return "failed: the server's terminal has the details"
}

// close stops a running survey and waits for its end.
func (k *worker) close() {
	if k != nil {
		k.end()
		k.done.Wait()
	}
}

// workView is the page of surveys.
type workView struct {
	frame
	Files []string
	State workState
	By    string
}

func (s *Server) workPage(w http.ResponseWriter, r *http.Request) {
	if s.worker == nil {
		s.refuse(w, r, http.StatusNotFound, "This server starts no surveys.", "Start it with --files and --terrain.")
		return
	}
	v := &workView{frame: s.frame(r, "Survey"), By: nameOf(r)}
	v.State, _ = s.worker.now()
	for i, f := range s.worker.files {
		v.Files = append(v.Files, fmt.Sprintf("%d: %s", i+1, wording.Plain(filepath.Join(filepath.Base(filepath.Dir(f)), filepath.Base(f)))))
	}
	s.show(w, r, http.StatusOK, "work", v)
}

// beginWork starts a survey.
func (s *Server) beginWork(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil || s.worker == nil {
		s.failForm(w, r, err)
		return
	}
	var numbers []int
	for _, text := range r.PostForm["file"] {
		n, err := strconv.Atoi(text)
		if err != nil {
			s.fail(w, r, typedWrong("there is no such file", "choose files of the list"))
			return
		}
		numbers = append(numbers, n)
	}
	by := strings.TrimSpace(r.PostForm.Get("by"))
	if name := nameOf(r); name != "" {
		by = name
	}
	err := checkName(by)
	if err == nil {
		err = s.worker.begin(numbers, by)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	http.Redirect(w, r, "/surveys", http.StatusSeeOther)
}

// endWork ends the survey that runs.
func (s *Server) endWork(w http.ResponseWriter, r *http.Request) {
	if s.worker != nil {
		s.worker.mu.Lock()
		if s.worker.cancel != nil {
			s.worker.cancel()
		}
		s.worker.mu.Unlock()
	}
	http.Redirect(w, r, "/surveys", http.StatusSeeOther)
}

// workEvents sends each change as a server-sent event, until the time limit of a request; the
// browser then connects again by itself.
func (s *Server) workEvents(w http.ResponseWriter, r *http.Request) {
	if s.worker == nil {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	to := http.NewResponseController(w)
	for {
		state, changed := s.worker.now()
		if _, err := fmt.Fprintf(w, "retry: 1000\ndata: %s\n\n", jsonOf(state)); err != nil || to.Flush() != nil {
			return
		}
		time.Sleep(100 * time.Millisecond) // a thousand routes a second must not cause a thousand events
		select {
		case <-changed:
		case <-r.Context().Done():
			return
		case <-s.worker.ctx.Done():
			return
		}
	}
}
