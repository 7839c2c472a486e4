package serve

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// reviewForm is the form of a descent's review, with the typed values.
type reviewForm struct {
	Address  string
	Version  int64    // version of the descent that the form shows
	Waits    string   // the newer survey that waits, in words; empty where none does
	Newer    []change // its changes
	States   []choice
	By       string
	IsNamed  bool // the visitor is known by name, so there is nothing to type
	Measured string
	Note     string
	Photo    string
	Decision string // "accept", "refuse" or ""
	Trouble  string // why the form was not stored
	Since    []eventRow
	Had      []fact // the recorded review
}

// change is a figure of the newer survey next to that of the catalogue.
type change struct{ Figure, Now, Newer string }

const nameCookie = "gradeline_name"

// Limits of the fields of a review, in bytes; our own choice, far more than a person types.
const (
	mostNameBytes = 200
	mostNoteBytes = 10_000
)

// formOf is the empty form for a descent.
func (s *Server) formOf(ctx context.Context, r *http.Request, e *catalog.Entry, u catalog.Units) (*reviewForm, error) {
	f := &reviewForm{Address: descentAddress(e.Descent.ID) + "/review"}
	var err error
	if f.Version, err = s.cat.Version(ctx, e.Descent.ID); err != nil {
		return nil, err
	}
	if f.By = nameOf(r); f.By != "" {
		f.IsNamed = true
	} else if c, err := r.Cookie(nameCookie); err == nil {
		if name, err := url.QueryUnescape(c.Value); err == nil {
			f.By = wording.Plain(name)
		}
	}
	f.setStates(string(e.Review.State))
	if e.Review.MeasuredGradePct != nil {
		f.Had = append(f.Had, fact{"Measured on the road", wording.Downgrade(*e.Review.MeasuredGradePct)})
	}
	for _, x := range []fact{{"Note", wording.Plain(e.Review.Note)}, {"Photo", wording.Plain(e.Review.Photo)}} {
		if x.Text != "" {
			f.Had = append(f.Had, x)
		}
	}
	waiting, err := s.cat.Proposals(ctx)
	if err != nil {
		return nil, err
	}
	for i := range waiting {
		if p := &waiting[i]; p.ID == e.Descent.ID {
			by := ""
			if p.By != "" {
				by = ", by " + wording.Plain(p.By)
			}
			f.Waits = fmt.Sprintf("%s%s: %s", p.At.UTC().Format("2006-01-02 15:04 UTC"), by, wording.Plain(p.Words))
			f.Newer = changesOf(e, &p.Entry, u)
		}
	}
	return f, nil
}

func (f *reviewForm) setStates(now string) {
	f.States = []choice{{"", "no change", now == ""}}
	for _, state := range states {
		f.States = append(f.States, choice{state, state, state == now})
	}
}

// changesOf lists a newer survey's figures next to the catalogue's.
func changesOf(e, newer *catalog.Entry, u catalog.Units) []change {
	a, b := &e.Descent, &newer.Descent
	out := []change{
		{"Length", u.Length(a.LengthM), u.Length(b.LengthM)},
		{"Drop", u.Height(a.DropM), u.Height(b.DropM)},
		{"Mean downgrade", wording.MeanWithBound(a), wording.MeanWithBound(b)},
		{"Steepest " + wording.Window(u, 500), wording.Steepest(a.Steepest500Pct, a.Steepest500ErrPct), wording.Steepest(b.Steepest500Pct, b.Steepest500ErrPct)},
	}
	for _, id := range wording.Classes([]catalog.Entry{*e, *newer}) {
		out = append(out, change{wording.Plain(id), wording.Plain(wording.HoldWords(e, id, u)), wording.Plain(wording.HoldWords(newer, id, u))})
	}
	return out
}

// review records a visitor's decision. If somebody else changed the descent meanwhile, or the form
// has a fault, it is shown again as it was typed.
func (s *Server) review(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	if err := r.ParseForm(); err != nil {
		s.failForm(w, r, err)
		return
	}
	d, err := s.decisionOf(r)
	if err == nil {
		err = s.inTurn(r.Context(), func() error { return s.decide(r.Context(), id, d) })
	}
	if err == nil {
		if nameOf(r) == "" {
			http.SetCookie(w, s.cookie(r, nameCookie, url.QueryEscape(d.Review.By)))
		}
		http.Redirect(w, r, descentAddress(id)+"#review", http.StatusSeeOther)
		return
	}
	s.reviewAgain(w, r, id, err)
}

// decide records a decision, and updates the list.
func (s *Server) decide(ctx context.Context, id string, d store.Decision) error {
	cat, err := s.forChange(ctx)
	if err != nil {
		return err
	}
	s.decideMu.Lock()
	defer s.decideMu.Unlock()
	before, err := markOf(s.cat.LocalPath())
	if err != nil {
		return err
	}
	s.list.own.Store(&before)
	defer s.list.own.Store(nil)
	if err := cat.Decide(ctx, id, d); err != nil {
		return err
	}
	after, err := markOf(s.cat.LocalPath())
	if err == nil && !d.Accept && !cat.IsShared() { // accepted figures may have another place in the list, and other offices' changes may have come from a database
		err = s.list.replace(ctx, id, before, after)
	}
	if err != nil { // the decision is stored; the next list is read again
		s.tell(err)
	}
	return nil
}

// failForm answers a form that cannot be read.
func (s *Server) failForm(w http.ResponseWriter, r *http.Request, err error) {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		s.fail(w, r, err)
		return
	}
	s.refuse(w, r, http.StatusBadRequest, "This form cannot be read.", "Open the page and send the form from there.")
}

// decisionOf reads the form.
func (s *Server) decisionOf(r *http.Request) (store.Decision, error) {
	f := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	d := store.Decision{Accept: f("decision") == "accept", Refuse: f("decision") == "refuse",
		Review: catalog.Review{State: catalog.ReviewState(f("state")), By: f("by"), Note: f("note"), Photo: f("photo")}}
	if name := nameOf(r); name != "" { // nobody may review in another person's name
		d.Review.By = name
	}
	for _, x := range []struct {
		what, given string
		most        int
	}{{"the name", d.Review.By, mostNameBytes}, {"the note", d.Review.Note, mostNoteBytes}, {"the photo's reference", d.Review.Photo, mostNoteBytes}} {
		if len(x.given) > x.most {
			return d, typedWrong(x.what+" is too long", fmt.Sprintf("it may have %d characters", x.most))
		}
	}
	switch {
	case d.Review.By == "":
		return d, typedWrong("the review has no name", "enter the name of the reviewer")
	case !d.Accept && !d.Refuse && d.Review.State == "":
		return d, typedWrong("nothing is decided", "choose a state, or accept or refuse the newer survey")
	}
	version, err := strconv.ParseInt(f("version"), 10, 64)
	if err != nil {
		return d, typedWrong("this form cannot be read", "open the page again and send the form from there")
	}
	d.Version = &version
	if text := f("measured"); text != "" {
		if !strings.HasSuffix(text, "%") {
			text += "%" // the field's label has the unit
		}
		pct, err := catalog.DowngradePct(text)
		if err != nil {
			return d, err
		}
		d.Review.MeasuredGradePct = &pct
	}
	return d, nil
}

func typedWrong(what, fix string) error {
	return &catalog.Fault{Kind: terrain.ErrInput, What: what, Fix: fix}
}

// reviewAgain shows the current descent, with the form as it was typed and the reason why it was
// not stored.
func (s *Server) reviewAgain(w http.ResponseWriter, r *http.Request, id string, why error) {
	var late *store.OvertakenError
	var fault *catalog.Fault
	status, trouble := http.StatusConflict, ""
	switch {
	case errors.As(why, &late):
		trouble = "Somebody else changed this descent while you had it open. Your review is not stored yet; your text is below. Check their change, and send it again if it is still right."
	case errors.As(why, &fault) && statusOf(fault) == http.StatusBadRequest:
		status, trouble = http.StatusBadRequest, "Not kept: "+wording.Plain(fault.What)+". "+capital(wording.Plain(fault.Fix))+"."
	default:
		s.fail(w, r, why)
		return
	}
	e, err := s.cat.Descent(r.Context(), id)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	v, err := s.viewOf(r, &e)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	f := v.Form
	f.Trouble = trouble
	if !f.IsNamed {
		f.By = r.PostForm.Get("by")
	}
	f.Measured, f.Note, f.Photo, f.Decision = r.PostForm.Get("measured"), r.PostForm.Get("note"), r.PostForm.Get("photo"), r.PostForm.Get("decision")
	f.setStates(r.PostForm.Get("state"))
	if late != nil {
		for _, ev := range late.Since {
			f.Since = append(f.Since, eventInWords(&ev))
		}
	}
	s.show(w, r, status, "descent", v)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// forChange returns the catalogue opened for writing; the first change opens it.
func (s *Server) forChange(ctx context.Context) (*store.Catalog, error) {
	s.changeMu.Lock()
	defer s.changeMu.Unlock()
	if s.writer == nil {
		cat, err := s.opt.Open(context.WithoutCancel(ctx), true)
		if err != nil {
			return nil, err
		}
		s.writer = cat
	}
	return s.writer, nil
}
