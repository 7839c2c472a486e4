package serve

import (
	"bytes"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"sync"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

//go:embed assets
var assets embed.FS

// templates of the pages, each on the frame of base.html; parsed when the first page is asked for.
var templates = sync.OnceValue(func() map[string]*template.Template {
	out := map[string]*template.Template{}
	for _, name := range []string{"list", "descent", "queue", "whatif", "enter", "work", "ways", "spread", "refusal"} {
		out[name] = template.Must(template.ParseFS(assets, "assets/base.html", "assets/parts.html", "assets/"+name+".html"))
	}
	return out
})

// frame is the part that every page has around its content.
type frame struct {
	Title     string
	Units     catalog.Units
	Back      string // page to which the form for the units returns
	Invented  string
	Cautions  []string
	IsIn      bool   // the visitor is known, so the page has its links
	Name      string // name of the visitor, where the server knows it
	IsSigned  bool   // signed in by a password: they may sign out
	HasWork   bool   // surveys may be started
	HasWays   bool   // the catalogue has a road network
	HasSpread bool   // the database has a queue of surveys over several machines
}

func (s *Server) frame(r *http.Request, title string) frame {
	f := frame{Title: wording.Plain(title), Units: s.unitsOf(r), Back: r.URL.RequestURI(), Cautions: catalog.Cautions(), IsIn: true, Name: nameOf(r), IsSigned: s.opt.Users != nil, HasWork: s.worker != nil, HasSpread: s.spread.isShown()}
	if now := s.list.now.Load(); now != nil {
		f.HasWays = now.hasNetwork
	}
	if r.Method != http.MethodGet {
		f.Back = "/"
	}
	return f
}

const unitsCookie = "gradeline_units"

func (s *Server) unitsOf(r *http.Request) catalog.Units {
	if c, err := r.Cookie(unitsCookie); err == nil {
		if u, err := catalog.ParseUnits(c.Value); err == nil {
			return u
		}
	}
	return s.opt.Units
}

// setUnits stores the units that a visitor chooses.
func (s *Server) setUnits(w http.ResponseWriter, r *http.Request) {
	u, err := catalog.ParseUnits(r.PostFormValue("units"))
	if err != nil {
		s.fail(w, r, &catalog.Fault{Kind: terrain.ErrInput, What: err.Error()})
		return
	}
	http.SetCookie(w, s.cookie(r, unitsCookie, u.String()))
	back, err := url.Parse(r.PostFormValue("back"))
	if err != nil {
		back = &url.URL{Path: "/"}
	}
	http.Redirect(w, r, localPath(back), http.StatusSeeOther)
}

// localPath turns any address into one within this server.
func localPath(u *url.URL) string {
	path := "/" + strings.TrimLeft(strings.ReplaceAll(u.EscapedPath(), `\`, ""), "/")
	if u.RawQuery != "" {
		return path + "?" + u.RawQuery
	}
	return path
}

// show writes a page. It is made in memory first, so that an error never cuts a page short and a
// slow reader blocks nothing.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, name string, page any) {
	b, err := laidOut(name, page)
	if err != nil {
		s.tell(err)
		http.Error(w, "The page cannot be shown.", http.StatusInternalServerError)
		return
	}
	writePage(w, r, status, b)
}

func laidOut(name string, page any) ([]byte, error) {
	var b bytes.Buffer
	err := templates()[name].ExecuteTemplate(&b, "base", page)
	return b.Bytes(), err
}

func writePage(w http.ResponseWriter, r *http.Request, status int, page []byte) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(page) // the reader has gone
	}
}

// refusalPage tells the visitor the fault and the next step.
type refusalPage struct {
	frame
	What, Fix string
}

func (s *Server) refuse(w http.ResponseWriter, r *http.Request, status int, what, fix string) {
	f := s.frame(r, http.StatusText(status))
	f.Back = "/"
	_, f.IsIn = s.visitOf(r)
	s.show(w, r, status, "refusal", refusalPage{f, wording.Plain(what), wording.Plain(fix)})
}

// fail answers with a fault. Wrong use and missing things are explained; other faults are shown
// without details of this machine.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var f *catalog.Fault
	var unknown *answer.UnknownError
	var tooLarge *http.MaxBytesError
	switch {
	case errors.Is(r.Context().Err(), context.Canceled): // the visitor left: there is no reader for an answer
	case errors.As(err, &tooLarge):
		s.refuse(w, r, http.StatusRequestEntityTooLarge, "The form is too large.", fmt.Sprintf("A form may hold %d characters in all.", tooLarge.Limit))
	case errors.As(err, &unknown):
		s.refuse(w, r, http.StatusNotFound, "The catalogue has "+unknown.What+" "+wording.Shortened(unknown.Name, 80)+".", "Known: "+strings.Join(unknown.Known, ", "))
	case r.Context().Err() != nil && errors.Is(r.Context().Err(), context.DeadlineExceeded):
		s.refuse(w, r, http.StatusServiceUnavailable, "This took too long and was stopped.", "Narrow the request, or try again later.")
	case errors.As(err, &f) && statusOf(f) != 0:
		what := f.What
		if f.Feature != "" {
			what = f.Feature + ": " + what
		}
		s.refuse(w, r, statusOf(f), wording.Shortened(what, 400), f.Fix)
	default:
		s.tell(err)
		s.refuse(w, r, http.StatusInternalServerError, "The catalogue cannot answer this.", "Run gradeline doctor on the catalogue; the server's terminal has the details.")
	}
}

// statusOf is the HTTP status of a fault that a visitor can correct; 0 for other faults.
func statusOf(f *catalog.Fault) int {
	for _, k := range []struct {
		kind   error
		status int
	}{{catalog.ErrNotFound, http.StatusNotFound}, {terrain.ErrInput, http.StatusBadRequest}, {catalog.ErrQuantity, http.StatusBadRequest},
		{catalog.ErrClass, http.StatusNotFound}, {catalog.ErrImpossible, http.StatusBadRequest}, {catalog.ErrBusy, http.StatusServiceUnavailable}} {
		if errors.Is(f, k.kind) {
			return k.status
		}
	}
	return 0
}

// jsonOf is a value without figures that JSON cannot hold.
func jsonOf(v any) []byte {
	b, _ := json.Marshal(v) // of texts and whole numbers: it cannot fail
	return b
}

// tell reports a fault to the person who runs the server.
func (s *Server) tell(err error) {
	if s.opt.Failed != nil {
		s.opt.Failed(err)
	}
}
