// Package overlay writes descents, holds, places and the roads that a truck must avoid as GeoJSON
// (RFC 7946), for a map or a routing engine.
//
// Lengths and heights are in metres, speeds in metres a second, downgrades in per cent
// and positive going down; each property's name ends in its unit. A foreign member
// "gradeline" has the cautions, the sources and whether the place is invented. A line
// without vertices, an impossible place or a figure that is not finite is a
// terrain.Fault that names the feature.
package overlay

import (
	"encoding/json"
	"io"
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// descentProps are a descent's properties: the keys of the JSON contract, the
// review, and the vertices' heights and stations, which RFC 7946 has no place
// for in the coordinates (its third number is a height above the ellipsoid).
type descentProps struct {
	Kind string `json:"kind"` // "descent"
	routes.Descent
	Heading      string          `json:"heading"`
	Holds        []holdProps     `json:"holds"`
	ReviewState  string          `json:"review_state"`
	ReviewedBy   string          `json:"reviewed_by"`
	ReviewedOn   *string         `json:"reviewed_on"`
	FieldChecked bool            `json:"field_checked"`
	InQuestion   string          `json:"in_question"`
	Invented     bool            `json:"invented"`
	ProvenanceNo int             `json:"provenance_no"`
	ElevationM   json.RawMessage `json:"vertex_elevation_m"`
	StationM     json.RawMessage `json:"vertex_station_m"`
}

// holdProps is a hold with the JSON contract's keys and the answer in one word.
type holdProps struct {
	Class             string   `json:"class"`
	Answer            string   `json:"answer"` // "holds", "NOT HELD" or "unknown"
	Why               string   `json:"why"`
	MassKg            *float64 `json:"mass_kg"`
	Holds             *bool    `json:"holds"` // null where the answer is unknown
	Gear              *int     `json:"gear"`
	GearName          *string  `json:"gear_name"`
	Ratio             *float64 `json:"ratio"`
	Stage             *int     `json:"stage"`
	Levers            *string  `json:"levers_words"` // all levers' settings
	SpeedMPS          *float64 `json:"speed_mps"`
	SpeedLowMPS       *float64 `json:"speed_low_mps"`
	EngineRPM         *float64 `json:"engine_rpm"`
	RetarderUsePct    *float64 `json:"retarder_use_pct"`
	LimitedBy         string   `json:"limited_by"`
	HeaviestMassKg    *float64 `json:"heaviest_mass_kg"`
	MissingPowerW     *float64 `json:"missing_power_w"`
	FrictionNeeded    *float64 `json:"friction_needed"`
	FrictionApplied   *float64 `json:"friction_applied"`
	DryRoadOnly       *bool    `json:"dry_road_only"` // as important as NOT HELD where the road is wet
	RecoverySpeedMPS  *float64 `json:"recovery_speed_mps"`
	ServiceBrakeTempC *float64 `json:"service_brake_temp_c"`
	GearByM           *float64 `json:"gear_by_m"`
	TimeS             *float64 `json:"time_s"`
	AirColdestC       *float64 `json:"air_coldest_c"` // weather that it is for; null for the standard atmosphere
	AirHottestC       *float64 `json:"air_hottest_c"`
	TailwindMPS       *float64 `json:"tailwind_mps"`
	Cautions          []string `json:"cautions"`
}

func holdPropsFor(e *catalog.Entry, classID string) holdProps {
	a, h, why := wording.AnswerFor(e, classID)
	p := holdProps{Class: classID, Answer: a.String(), Why: why, Cautions: []string{}}
	if h == nil {
		return p
	}
	p.MassKg, p.LimitedBy, p.HeaviestMassKg = &h.MassKg, h.LimitedBy, &h.HeaviestMassKg
	p.MissingPowerW, p.FrictionNeeded, p.FrictionApplied, p.ServiceBrakeTempC = &h.MissingPowerW, &h.FrictionNeeded, &h.FrictionApplied, h.ServiceBrakeTempC
	if w := h.Weather; w != nil {
		p.AirColdestC, p.AirHottestC, p.TailwindMPS = &w.ColdestC, &w.HottestC, &w.TailwindMPS
	}
	p.Cautions = append(p.Cautions, h.Cautions...)
	if a == wording.Unknown {
		return p // no gear and no speed that a driver may use
	}
	p.Holds = &h.Holds
	if a == wording.Held {
		p.Gear, p.Ratio, p.Stage, p.SpeedMPS = &h.Gear, &h.Ratio, &h.Stage, &h.SpeedMPS
		p.EngineRPM, p.RetarderUsePct, p.GearByM, p.TimeS = &h.EngineRPM, &h.RetarderUsePct, &h.GearByM, &h.TimeS
		gear, levers, dry := h.GearLabel(), h.StageWords(), h.IsDryRoadOnly()
		p.GearName, p.Levers, p.DryRoadOnly = &gear, &levers, &dry
		p.SpeedLowMPS, p.RecoverySpeedMPS = &h.SpeedLowMPS, h.RecoverySpeedMPS
	}
	return p
}

// overlayBuilder collects features and the distinct provenances to which they refer.
type overlayBuilder struct{ c collection }

func newOverlay(kind, classID string, es []catalog.Entry, notes ...string) *overlayBuilder {
	b := &overlayBuilder{collection{Features: []feature{}, Gradeline: about{
		Schema: catalog.Schema, Overlay: kind, Class: classID, Cautions: catalog.Cautions(),
		Notes: append([]string{
			"Lines run from crest to foot, in travel; vertex_elevation_m and vertex_station_m go with their vertices. Heights are in the datum named in provenance, not above the ellipsoid.",
		}, notes...), Provenance: []catalog.Provenance{},
	}}}
	if wording.AnyInvented(es) {
		b.c.Gradeline.Invented, b.c.Gradeline.Banner = true, wording.InventedBanner
	}
	return b
}

func (b *overlayBuilder) provenanceNo(p catalog.Provenance) int {
	for i, q := range b.c.Gradeline.Provenance {
		if reflect.DeepEqual(p, q) {
			return i
		}
	}
	b.c.Gradeline.Provenance = append(b.c.Gradeline.Provenance, p)
	return len(b.c.Gradeline.Provenance) - 1
}

func (b *overlayBuilder) add(id string, g geometry, props any) {
	b.c.Features = append(b.c.Features, feature{ID: id, Geometry: g, Properties: props})
}

// descent returns an entry's line and properties, without holds.
func (b *overlayBuilder) descent(e *catalog.Entry) (line, descentProps, error) {
	l, err := cutLine(e.Descent.ID, e.Line)
	if err != nil {
		return nil, descentProps{}, err
	}
	p := descentProps{
		Kind: "descent", Descent: e.Descent, Heading: wording.Heading(&e.Descent), Holds: []holdProps{},
		ReviewState: string(e.Review.State), ReviewedBy: e.Review.By,
		FieldChecked: wording.IsFieldChecked(e), InQuestion: e.Review.InQuestion,
		Invented: e.Provenance.Invented, ProvenanceNo: b.provenanceNo(e.Provenance),
		ElevationM: l.figures(func(v catalog.Vertex) float64 { return v.ElevationM }),
		StationM:   l.figures(func(v catalog.Vertex) float64 { return v.StationM }),
	}
	if p.ReviewState == "" {
		p.ReviewState = string(catalog.Surveyed)
	}
	if !e.Review.At.IsZero() {
		on := e.Review.At.Format("2006-01-02")
		p.ReviewedOn = &on
	}
	if p.Flags == nil {
		p.Flags = []string{}
	}
	if p.Benches == nil {
		p.Benches = []routes.Bench{}
	}
	return l, p, nil
}

// DescentsOverlay writes every entry as an RFC 7946 feature, with all of its
// holds. A feature's id is the descent's. The steep parts outside any descent follow, of
// the kind "steep part".
func DescentsOverlay(w io.Writer, es []catalog.Entry, parts ...catalog.SteepPart) error {
	b := newOverlay("descents", "", es)
	for i := range es {
		l, p, err := b.descent(&es[i])
		if err != nil {
			return err
		}
		for _, h := range es[i].Holds {
			p.Holds = append(p.Holds, holdPropsFor(&es[i], h.Class))
		}
		b.add(es[i].Descent.ID, l.geometry(), p)
	}
	if err := b.addParts(parts); err != nil {
		return err
	}
	return writeCollection(w, b.c)
}

// holdFeature is one descent and one class: the hold's own keys at the top
// level, so that a map can be styled by them.
type holdFeature struct {
	Descent string `json:"descent"`
	holdProps
	Route           string          `json:"route"`
	Name            string          `json:"name"`
	Direction       string          `json:"direction"`
	Heading         string          `json:"heading"`
	LengthM         float64         `json:"length_m"`
	DropM           float64         `json:"drop_m"`
	MeanPct         float64         `json:"mean_downgrade_pct"`
	MeanErrPct      float64         `json:"mean_downgrade_err_pct"`
	Steepest500Pct  float64         `json:"steepest_500m_pct"`
	Flags           []string        `json:"flags"`
	ReviewState     string          `json:"review_state"`
	FieldChecked    bool            `json:"field_checked"`
	InQuestion      string          `json:"in_question"`
	Invented        bool            `json:"invented"`
	ProvenanceNo    int             `json:"provenance_no"`
	ElevationM      json.RawMessage `json:"vertex_elevation_m"`
	StationM        json.RawMessage `json:"vertex_station_m"`
	OneGearUp       string          `json:"one_gear_up"`
	SurfacesOut     []string        `json:"surfaces_excluded"`
	WordsUS         string          `json:"explanation_us"`
	WordsMetric     string          `json:"explanation_metric"`
	DemandPowerW    *float64        `json:"demand_power_w"`
	AvailablePowerW *float64        `json:"available_power_w"`
}

func (b *overlayBuilder) hold(e *catalog.Entry, classID string) (line, holdFeature, error) {
	l, d, err := b.descent(e)
	if err != nil {
		return nil, holdFeature{}, err
	}
	f := holdFeature{
		Descent: d.ID, holdProps: holdPropsFor(e, classID), Route: d.Route, Name: d.Name, Direction: d.Direction.String(),
		Heading: d.Heading, LengthM: d.LengthM, DropM: d.DropM, MeanPct: d.MeanDowngradePct, MeanErrPct: d.MeanDowngradeErrPct,
		Steepest500Pct: d.Steepest500Pct, Flags: d.Flags, ReviewState: d.ReviewState, FieldChecked: d.FieldChecked,
		InQuestion: d.InQuestion, Invented: d.Invented, ProvenanceNo: d.ProvenanceNo,
		ElevationM: d.ElevationM, StationM: d.StationM, SurfacesOut: []string{},
	}
	if a, h, _ := wording.AnswerFor(e, classID); h != nil {
		f.DemandPowerW, f.AvailablePowerW = &h.DemandPowerW, &h.AvailablePowerW
		if a != wording.Unknown { // these texts name a gear, which is advice
			f.OneGearUp, f.WordsUS, f.WordsMetric = h.OneGearUp, h.Words.US, h.Words.Metric
			f.SurfacesOut = append(f.SurfacesOut, h.SurfacesOut...)
		}
	}
	return l, f, nil
}

// HoldsOverlay writes one feature for each descent and class, with id "descent/class".
// With an empty classID it writes every class that an entry has; a class that an entry
// lacks is written as "unknown".
func HoldsOverlay(w io.Writer, es []catalog.Entry, classID string) error {
	b := newOverlay("holds", classID, es, "An answer of \"unknown\" is not a permission.")
	for i := range es {
		ids := []string{classID}
		if classID == "" {
			ids = ids[:0]
			for _, h := range es[i].Holds {
				ids = append(ids, h.Class)
			}
		}
		for _, id := range ids {
			l, f, err := b.hold(&es[i], id)
			if err != nil {
				return err
			}
			b.add(es[i].Descent.ID+"/"+id, l.geometry(), f)
		}
	}
	return writeCollection(w, b.c)
}
