package serve

import (
	"compress/gzip"
	"encoding/json"
	"math"
	"net/http"
	"net/url"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// mapData is the data of the map.
type mapData struct {
	Descents []mapDescent `json:"descents"` // most dangerous first
	LeftOut  int          `json:"left_out"` // number of chosen descents beyond the map's limit
	Sites    []mapSite    `json:"sites"`
	Steep    []mapPart    `json:"steep_parts"` // outside any descent, steepest first
	SteepOut int          `json:"steep_parts_left_out"`
	Bounds   *[4]float64  `json:"bounds_deg"` // west, south, east, north of the chosen descents; null for none
}

type mapDescent struct {
	Address  string       `json:"address"`
	Title    string       `json:"title"`
	Code     string       `json:"code"`
	Answer   string       `json:"answer"`
	Question bool         `json:"in_question"`
	Line     [][2]float64 `json:"line"` // latitude, longitude; from crest to foot
}

type mapSite struct {
	Words string     `json:"words"`
	Name  string     `json:"name"`
	Kind  string     `json:"kind"`
	At    [2]float64 `json:"place_deg"` // latitude, longitude
}

type mapPart struct {
	Words string       `json:"words"`
	Line  [][2]float64 `json:"line"` // latitude, longitude
}

// Limits of one map, so that it is quick on an office's machine.
const (
	mostMapDescents = 1200
	mostMapSites    = 1000
	mostMapParts    = 600
	mostFinePoints  = 200 // descents that are drawn with all their points
)

// mapJSON answers with the map's data for a query.
func (s *Server) mapJSON(w http.ResponseWriter, r *http.Request) {
	q, now, rows, err := s.chosenBy(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	d := mapData{Descents: []mapDescent{}, Bounds: boundsOf(rows)}
	class, u := now.classIndex(q.Class), s.unitsOf(r)
	d.LeftOut = max(0, len(rows)-mostMapDescents)
	rows = rows[:len(rows)-d.LeftOut]
	step := 1
	if len(rows) > mostFinePoints {
		step = 5
	}
	for _, x := range rows {
		words := x.inWords(class, u, q.Class)
		d.Descents = append(d.Descents, mapDescent{words.Address, words.Title + ", " + words.Heading, words.Code, words.Answer, x.question != "", x.latLon(step)})
	}
	d.Sites = now.mapSites(&q)
	d.Steep, d.SteepOut = now.mapParts(&q, u)
	b, err := json.Marshal(d)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	writeJSON(w, r, b)
}

// writeJSON sends JSON, compressed where the browser takes that: a map has thousands of points.
func writeJSON(w http.ResponseWriter, r *http.Request, b []byte) {
	w.Header().Set("Content-Type", "application/json")
	if acceptsGzip(r) {
		w.Header().Set("Content-Encoding", "gzip")
		b = gzipped(b, gzip.BestSpeed)
	}
	_, _ = w.Write(b)
}

// mapSites are the sites of a map, without signs.
func (s *snapshot) mapSites(q *query) []mapSite {
	out := []mapSite{}
	for i := range s.sites {
		site := &s.sites[i]
		if len(out) == mostMapSites {
			break
		}
		if site.Kind == catalog.SignStands || q.box != nil && !isIn(q.box, site.Point.LonDeg, site.Point.LatDeg) {
			continue
		}
		text := site.Kind.Words()
		if site.Name != "" {
			text += " " + site.Name
		}
		out = append(out, mapSite{wording.Plain(text), wording.Plain(site.Name), string(site.Kind), [2]float64{round5(site.Point.LatDeg), round5(site.Point.LonDeg)}})
	}
	return out
}

// mapParts are the chosen steep parts outside descents, and the number beyond the map's limit.
func (s *snapshot) mapParts(q *query, u catalog.Units) (parts []mapPart, leftOut int) {
	parts = []mapPart{}
	chosen := q.chosenParts(&s.steep).Parts
	leftOut = max(0, len(chosen)-mostMapParts)
	for i := range chosen[:len(chosen)-leftOut] {
		p := mapPart{Words: wording.PartTitle(&chosen[i]) + ": " + wording.SteepPart(&chosen[i].SteepPart, u), Line: [][2]float64{}}
		for _, at := range thinned(chosen[i].Line) {
			p.Line = append(p.Line, [2]float64{round5(float64(at.latDeg)), round5(float64(at.lonDeg))})
		}
		parts = append(parts, p)
	}
	return parts, leftOut
}

// latLon are the row's points, every step-th of them and the last.
func (r *row) latLon(step int) [][2]float64 {
	out := [][2]float64{}
	for i, p := range r.line {
		if i%step == 0 || i == len(r.line)-1 {
			out = append(out, [2]float64{round5(float64(p.latDeg)), round5(float64(p.lonDeg))})
		}
	}
	return out
}

// round5 rounds degrees to about a metre.
func round5(v float64) float64 { return math.Round(v*1e5) / 1e5 }

// boundsOf is the extent of all rows; nil for none. A list on both sides of the
// antimeridian gets the whole width of the world.
func boundsOf(rows []*row) *[4]float64 {
	b := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, r := range rows {
		for _, p := range r.line {
			lon, lat := round5(float64(p.lonDeg)), round5(float64(p.latDeg))
			b = [4]float64{math.Min(b[0], lon), math.Min(b[1], lat), math.Max(b[2], lon), math.Max(b[3], lat)}
		}
	}
	if b[0] > b[2] {
		return nil
	}
	return &b
}

// mapSettings are the settings of the map's script in the page.
type mapSettings struct {
	Data     string // address of mapData for the page's query
	IsShaded bool   // there are tiles
	Least    int    // least zoom of the tiles
}

func (s *Server) mapSettings(q *query) mapSettings {
	m := mapSettings{Data: "/map?" + q.Values().Encode()}
	if s.tiles != nil {
		m.IsShaded, m.Least = true, s.tiles.least
	}
	return m
}

// descentAddress is the page of a descent.
func descentAddress(id string) string { return "/descent/" + url.PathEscape(id) }
