package answer

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/routes/stationing"
)

// GPX 1.1 (topografix.com/GPX/1/1): elements are in the order of its schema.
type gpxPoint struct {
	Lat  float64 `xml:"lat,attr"`
	Lon  float64 `xml:"lon,attr"`
	Name string  `xml:"name,omitempty"`
	Desc string  `xml:"desc,omitempty"`
}

type gpxTrack struct {
	Name   string     `xml:"name"`
	Desc   string     `xml:"desc"`
	Points []gpxPoint `xml:"trkseg>trkpt"`
}

type gpxFile struct {
	XMLName xml.Name   `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version string     `xml:"version,attr"`
	Creator string     `xml:"creator,attr"`
	Desc    string     `xml:"metadata>desc"`
	Places  []gpxPoint `xml:"wpt"`
	Tracks  []gpxTrack `xml:"trk"`
}

// TripsGPX writes the trips as tracks of a GPX 1.1 file, best first, with a waypoint where the gear
// must be engaged for each hill of the best trip. The cautions and the sources of the roads are in
// the file's description.
func TripsGPX(w io.Writer, a *TripsAnswer) error {
	desc := append([]string{}, a.Cautions...)
	for i := range a.Network {
		desc = append(desc, sourceWords(&a.Network[i]))
	}
	out := gpxFile{Version: "1.1", Creator: "gradeline", Desc: strings.Join(desc, " ")}
	for i := range a.Trips {
		t := &a.Trips[i]
		k := gpxTrack{Name: fmt.Sprintf("%s, way %d", a.Class, t.Place), Desc: t.answerWords() + ": " + t.Why + ". " + a.Cautions[0]}
		for _, p := range t.LineDeg {
			k.Points = append(k.Points, gpxPoint{Lon: p[0], Lat: p[1]})
		}
		out.Tracks = append(out.Tracks, k)
	}
	if len(a.Trips) > 0 {
		out.Places = hillPoints(&a.Trips[0])
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	if err := xml.NewEncoder(w).Encode(out); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// hillPoints are the places where the gear must be engaged for each hill of a trip.
func hillPoints(t *TripAnswer) []gpxPoint {
	var out []gpxPoint
	if len(t.LineDeg) == 0 {
		return nil
	}
	for i := range t.Descents {
		d := &t.Descents[i]
		atM, name := d.StartM, fmt.Sprintf("Hill %d: unknown", i+1)
		if len(d.Holds) > 0 {
			h := &d.Holds[0]
			name = fmt.Sprintf("Hill %d: %s", i+1, adviceWords(h, catalog.Metric))
			if h.Holds {
				atM = max(0, h.GearByM)
			}
		}
		p := t.pointAt(atM)
		out = append(out, gpxPoint{Lon: p[0], Lat: p[1], Name: name, Desc: fmt.Sprintf("%.0f m at %.1f %%, drops %.0f m", d.LengthM, d.MeanDowngradePct, d.DropM)})
	}
	return out
}

// pointAt is the point at a station of the trip.
func (t *TripAnswer) pointAt(stationM float64) [2]float64 {
	doneM := 0.0
	for i := 1; i < len(t.LineDeg); i++ {
		a, b := t.LineDeg[i-1], t.LineDeg[i]
		stepM := stationing.DistanceM(a, b)
		if doneM+stepM >= stationM && stepM > 0 {
			f := (stationM - doneM) / stepM
			return [2]float64{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
		}
		doneM += stepM
	}
	return t.LineDeg[len(t.LineDeg)-1]
}
