package serve

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/ranking"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// ways finds ways through the catalogue's road network. The network of the last question is kept: to
// open one takes far longer than to search it. A search is not concurrent, so questions wait in line.
type ways struct {
	turn  chan struct{} // held during a search; the fields below are its holder's
	mark  fileMark      // state of the file in which the network was read
	class string
	kg    float64
	kept  *survey.KeptNetwork
}

func newWays() *ways { return &ways{turn: make(chan struct{}, 1)} }

// waysView is the page of ways from one place to another.
type waysView struct {
	frame
	Classes        []choice
	Prefers        []choice
	From, To, Mass string
	Trouble        string
	NoWay, Opens   string
	Caption        string
	Head           []string
	Ways           []wayRow
	Notes          []string
	Lines          []wayLine
	Map            mapSettings
}

// wayRow is one way in words.
type wayRow struct {
	Place     int
	Code      string
	Cells     []string // as the table of the command has them
	Driver    string   // address of the driver's page
	DriverPDF string
}

// wayLine is one way for the map.
type wayLine struct {
	Place int          `json:"place"`
	Code  string       `json:"code"`
	Words string       `json:"words"`
	Line  [][2]float64 `json:"line"` // latitude, longitude
}

// mostAlternatives is the number of ways beyond the best one.
const mostAlternatives = 2

// wayQuery is a question as the address bar holds it.
type wayQuery struct {
	class    *vehicle.Class
	places   []orb.Point
	massText string
	trip     survey.TripQuery
}

// wayQueryOf reads a question; nil places where none was asked yet.
func (s *Server) wayQueryOf(r *http.Request) (q wayQuery, err error) {
	v := r.URL.Query()
	id := v.Get("class")
	if id == "" && len(s.opt.Classes) > 0 {
		id = s.opt.Classes[0].ID
	}
	if q.class = s.classByID(id); q.class == nil {
		return q, notKnown("class", id, nil)
	}
	q.massText = strings.TrimSpace(v.Get("mass"))
	if v.Get("from") == "" && v.Get("to") == "" {
		return q, nil
	}
	q.trip = survey.TripQuery{Options: survey.Options{Classes: []vehicle.Class{*q.class}, Units: s.unitsOf(r)}, Alternatives: mostAlternatives}
	q.trip.Descent = q.trip.Descent.WithDefaults()
	if q.massText != "" {
		if q.trip.MassKg, err = catalog.MassKg(q.massText); err != nil {
			return q, err
		}
	}
	if q.trip.Prefer, err = ranking.ParsePrefer(v.Get("prefer")); err != nil {
		return q, typedWrong("the order cannot be read", err.Error())
	}
	q.trip.Vehicle = survey.VehicleOf(q.class, q.trip.MassKg)
	for _, name := range []string{"from", "to"} {
		p, err := catalog.ParsePoint(v.Get(name))
		if err != nil {
			return q, err
		}
		q.places = append(q.places, p)
	}
	return q, nil
}

// find answers a question; one at a time.
func (s *Server) find(ctx context.Context, q *wayQuery) (*answer.TripsAnswer, error) {
	w := s.ways
	select {
	case w.turn <- struct{}{}:
		defer func() { <-w.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	mark, err := markOf(s.cat.LocalPath())
	if err != nil {
		return nil, err
	}
	if w.kept == nil || w.mark != mark || w.class != q.class.ID || w.kg != q.trip.MassKg {
		k, err := survey.OpenNetwork(ctx, s.cat, q.class, q.trip.MassKg, q.trip.Weather)
		if err != nil {
			return nil, err
		}
		w.kept, w.mark, w.class, w.kg = k, mark, q.class.ID, q.trip.MassKg
	}
	a, err := answer.FindTripsOn(ctx, w.kept, q.places, q.trip)
	if err != nil {
		w.kept = nil // a search that was cut off may have left it half read
	}
	return a, err
}

// waysPage is the page of ways.
func (s *Server) waysPage(w http.ResponseWriter, r *http.Request) {
	now, _, err := s.list.current(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if !now.hasNetwork {
		s.refuse(w, r, http.StatusNotFound, "This catalogue has no road network.", "Survey an OpenStreetMap extract, or lines that meet end to end, into it.")
		return
	}
	q, err := s.wayQueryOf(r)
	v := s.waysView(r, now, &q)
	var a *answer.TripsAnswer
	if err == nil && q.places != nil {
		a, err = s.find(r.Context(), &q)
	}
	status := http.StatusOK
	var f *catalog.Fault
	if errors.As(err, &f) && q.class != nil && statusOf(f) != 0 {
		v.Trouble, status = wording.Shortened(wording.Plain(f.What+". "+f.Fix), 400), statusOf(f)
	} else if err != nil {
		s.fail(w, r, err)
		return
	}
	if a != nil {
		v.fill(r, a)
	}
	s.show(w, r, status, "ways", v)
}

func (s *Server) waysView(r *http.Request, now *snapshot, q *wayQuery) *waysView {
	given := r.URL.Query()
	v := &waysView{frame: s.frame(r, "Ways"), From: short(given.Get("from")), To: short(given.Get("to")), Mass: short(given.Get("mass")), Lines: []wayLine{}, Map: s.mapSettings(&query{})}
	if now.invented {
		v.Invented = wording.InventedBanner
	}
	for i := range s.opt.Classes {
		k := &s.opt.Classes[i]
		v.Classes = append(v.Classes, choice{k.ID, s.className(k.ID), q.class != nil && k.ID == q.class.ID})
	}
	for _, p := range []ranking.Prefer{ranking.PreferTime, ranking.PreferLength, ranking.PreferMargin} {
		v.Prefers = append(v.Prefers, choice{string(p), string(p), string(p) == given.Get("prefer")})
	}
	return v
}

// fill adds the ways that were found, in the words of the route command.
func (v *waysView) fill(r *http.Request, a *answer.TripsAnswer) {
	t := answer.TripsTable(a, v.Units)
	v.Caption, v.Head = wording.Plain(t.Title), t.Header
	if a.NoWay != "" {
		v.NoWay, v.Opens = wording.Plain(a.NoWay), wording.Plain(a.Opens)
	}
	for i := range a.Trips {
		x := &a.Trips[i]
		row := wayRow{Place: x.Place, Code: x.Code()}
		for _, cell := range t.Rows[i] {
			row.Cells = append(row.Cells, wording.Plain(fmt.Sprint(cell)))
		}
		at := r.URL.Query()
		at.Set("place", strconv.Itoa(x.Place))
		row.Driver = "/ways/driver?" + at.Encode()
		at.Set("as", "pdf")
		row.DriverPDF = "/ways/driver?" + at.Encode()
		v.Ways = append(v.Ways, row)
		v.Lines = append(v.Lines, wayLine{x.Place, row.Code, fmt.Sprintf("Way %d: %s, %s", x.Place, v.Units.Length(x.LengthM), row.Cells[3]), latLonOf(x.LineDeg)})
	}
	for _, note := range t.Notes {
		if !slices.Contains(a.Cautions, note) { // these stand on every page
			v.Notes = append(v.Notes, wording.Plain(note))
		}
	}
}

func latLonOf(line [][2]float64) [][2]float64 {
	out := make([][2]float64, 0, len(line))
	for _, p := range line {
		out = append(out, [2]float64{round5(p[1]), round5(p[0])})
	}
	return out
}

// wayDriverPage is the driver's page of one way.
func (s *Server) wayDriverPage(w http.ResponseWriter, r *http.Request) {
	q, err := s.wayQueryOf(r)
	if err == nil && q.places == nil {
		err = typedWrong("no way is asked for", "start at the page of ways")
	}
	place, bad := strconv.Atoi(r.URL.Query().Get("place"))
	if err == nil && (bad != nil || place < 1) {
		err = typedWrong("there is no such way", "choose one of the list")
	}
	var a *answer.TripsAnswer
	if err == nil {
		a, err = s.find(r.Context(), &q)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	o := answer.TripPageOptions{Class: q.class, Units: s.unitsOf(r), Paper: page.A4, Printed: s.opt.Now(), Place: place}
	if o.Units == catalog.US {
		o.Paper = page.Letter
	}
	if err := o.FromCatalogue(r.Context(), s.cat, true); err != nil {
		s.fail(w, r, err)
		return
	}
	if r.URL.Query().Get("as") == "pdf" {
		s.send(w, r, fmt.Sprintf("way-%d.pdf", place), "application/pdf", true, func(_ context.Context, out *os.File) error { return a.TripPage(out, "way.pdf", o) })
		return
	}
	var b bytes.Buffer
	if err := a.TripPage(&b, "way.html", o); err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Security-Policy", documentPolicy)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b.Bytes())
}
