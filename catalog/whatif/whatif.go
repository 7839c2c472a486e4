// Package whatif computes what a truck could do on a plain grade, or on the grade line of a descent,
// if one figure changed: the grade, the length, the mass, a part of the retarder, the temperature.
// The answers are those of package holding. It builds for a browser without C, so that the office's page gives the answer of the
// hold command while a slider moves.
//
// Questions and answers are JSON in SI units; the answer has the keys of hold --json and,
// as "shown", the same in words for people.
package whatif

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// Question is one grade and one truck.
type Question struct {
	Class            string   `json:"class"`
	ClassesTOML      string   `json:"classes_toml"` // a file of classes in place of the built-in ones; may be empty
	DowngradePct     float64  `json:"downgrade_pct"`
	LengthM          float64  `json:"length_m"`
	MassKg           float64  `json:"mass_kg"`            // 0 for the class's upper end
	RetarderSharePct *float64 `json:"retarder_share_pct"` // available share of the retarder's power; nil for all
	TempC            *float64 `json:"temp_c"`             // of the air; nil for the usual weather, or that of the line's stored advice
	AltitudeM        *float64 `json:"altitude_m"`
	PostedMPS        float64  `json:"posted_mps"` // 0 for none
	OwnLine          bool     `json:"own_line"`   // on the asker's grade line; grade and length are then its own
}

// Answer has the keys of hold --json, and the same in words.
type Answer struct {
	Schema   string       `json:"schema"`
	GradePct float64      `json:"downgrade_pct"`
	LengthM  float64      `json:"length_m"`
	Hold     catalog.Hold `json:"hold"`
	Cautions []string     `json:"cautions"`
	Shown    Shown        `json:"shown"`
}

// Shown is an answer for people, in each unit system.
type Shown struct {
	Code   string `json:"code"` // "not", "dry" or "held"
	US     Words  `json:"us"`
	Metric Words  `json:"metric"`
}

// Words are an answer in one unit system.
type Words struct {
	Answer string   `json:"answer"`
	Lines  []Line   `json:"lines"`
	Why    string   `json:"why"`
	Notes  []string `json:"notes"` // cautions of this answer
}

// Line is a figure with its name.
type Line struct {
	Label string `json:"label"`
	Text  string `json:"text"`
}

// Asker answers questions about some classes, on plain grades or on one descent's grade line. It is
// not safe for concurrent use.
type Asker struct {
	classes []vehicle.Class
	line    *GradeLine                  // may be nil
	hills   map[string]*holding.Adviser // of the line, by class; "" for a class of one's own
}

// NewAsker returns an Asker. classes are those that a question may name; line may be nil.
func NewAsker(classes []vehicle.Class, line *GradeLine) *Asker {
	return &Asker{classes: classes, line: line, hills: map[string]*holding.Adviser{}}
}

// Ask answers a question on a plain grade. classes are those that it may name.
func Ask(q Question, classes []vehicle.Class) (*Answer, error) { return NewAsker(classes, nil).Ask(q) }

// Ask answers a question.
func (k *Asker) Ask(q Question) (*Answer, error) {
	class, err := classFor(&q, k.classes)
	if err != nil {
		return nil, err
	}
	o := holding.Options{MassKg: q.MassKg, Weather: holding.UsualWeather(), TempC: q.TempC, AltitudeM: q.AltitudeM}
	var h catalog.Hold
	if q.OwnLine {
		var hill *holding.Adviser
		if hill, err = k.adviser(&q); err == nil {
			q.DowngradePct, q.LengthM = k.line.MeanPct, k.line.LengthM
			if k.line.Weather != nil {
				o.Weather = k.line.Weather
			}
			h, err = hill.Advise(*class, o)
		}
	} else {
		hill := holding.PlainHill(q.DowngradePct, q.LengthM)
		if q.PostedMPS > 0 {
			hill = holding.WithPosted(hill, q.PostedMPS)
		}
		h, err = holding.Advise(hill, *class, o)
	}
	if err != nil {
		return nil, err
	}
	return &Answer{catalog.Schema, q.DowngradePct, q.LengthM, h, catalog.Cautions(), shownOf(&h, class.Name)}, nil
}

// adviser is that of the line for a question's class; it is made once.
func (k *Asker) adviser(q *Question) (*holding.Adviser, error) {
	if k.line == nil {
		return nil, &catalog.Fault{Kind: catalog.ErrImpossible, What: "no grade line of a descent is loaded", Fix: "open the question from the page of a descent"}
	}
	class := q.Class
	if q.ClassesTOML != "" { // another truck that may use the same id
		class = ""
	}
	if known := k.hills[class]; known != nil && q.PostedMPS == 0 {
		return known, nil
	}
	hill, err := k.line.Hill(class)
	if err != nil {
		return nil, err
	}
	if q.PostedMPS > 0 {
		return holding.NewAdviser(holding.WithPosted(hill, q.PostedMPS)), nil
	}
	k.hills[class] = holding.NewAdviser(hill)
	return k.hills[class], nil
}

// classFor is the class of a question, with the share of its retarder.
func classFor(q *Question, classes []vehicle.Class) (*vehicle.Class, error) {
	if q.ClassesTOML != "" {
		own, _, err := vehicle.ParseClasses("the classes given", strings.NewReader(q.ClassesTOML))
		if err != nil {
			return nil, err
		}
		if classes = own; len(own) == 1 {
			q.Class = own[0].ID
		}
	}
	var known []string
	for i := range classes {
		if classes[i].ID == q.Class {
			return withRetarderShare(classes[i], q.RetarderSharePct)
		}
		known = append(known, classes[i].ID)
	}
	return nil, &catalog.Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("there is no class %q", wording.Shortened(q.Class, 60)), Fix: "use one of " + strings.Join(known, ", ")}
}

// withRetarderShare is a class whose retarders have a part of their power and torque. A share above
// 100 % is refused.
func withRetarderShare(c vehicle.Class, sharePct *float64) (*vehicle.Class, error) {
	if sharePct == nil || *sharePct == 100 {
		return &c, nil
	}
	if !(*sharePct > 0 && *sharePct < 100) {
		return nil, &catalog.Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("%g %% of a retarder", *sharePct), Fix: "use a share above 0 and up to 100 %"}
	}
	share := *sharePct / 100
	retarders := make([]vehicle.Retarder, len(c.Truck.Retarders))
	for i, r := range c.Truck.Retarders {
		r.TorqueLimitNm *= share
		r.SustainedPowerW *= share
		stages := make([]vehicle.Curve, len(r.Stages))
		for k, s := range r.Stages {
			stages[k] = make(vehicle.Curve, len(s))
			for n, point := range s {
				point.PowerW *= share
				stages[k][n] = point
			}
		}
		r.Stages = stages
		retarders[i] = r
	}
	c.Truck.Retarders = retarders
	return &c, nil
}

func shownOf(h *catalog.Hold, className string) Shown {
	s := Shown{Code: "not", Metric: wordsOf(h, className, catalog.Metric), US: wordsOf(h, className, catalog.US)}
	switch {
	case h.IsDryRoadOnly():
		s.Code = "dry"
	case h.Holds:
		s.Code = "held"
	}
	return s
}

func wordsOf(h *catalog.Hold, className string, u catalog.Units) Words {
	w := Words{Answer: "NOT HELD", Why: wording.Both{Metric: h.Words.Metric, US: h.Words.US}.In(u), Notes: append([]string{}, h.CautionsIn(u)...)}
	add := func(label, format string, a ...any) {
		w.Lines = append(w.Lines, Line{label, fmt.Sprintf(format, a...)})
	}
	add("Truck", "%s, %s", wording.WithoutMass(className), u.MassDown(h.MassKg))
	if h.Holds {
		w.Answer = fmt.Sprintf("holds: gear %s, %s, %s", h.GearLabel(), h.StageWords(), u.Speed(h.SpeedMPS))
		if h.IsDryRoadOnly() {
			w.Answer = catalog.DryRoadOnly + ", " + w.Answer
		}
		add("Gear", "%s (%.2f)", h.GearLabel(), h.Ratio)
		add("Stage", "%s", h.StageWords())
		add("Band", "%s to %s", u.Speed(h.SpeedLowMPS), u.Speed(h.SpeedMPS))
		add("Engine", "%.0f rpm", h.EngineRPM)
		add("Retarder in use", "%.0f %%", math.Ceil(h.RetarderUsePct-1e-9))
		add("Limited by", "%s", h.LimitedBy)
		if up := h.OneGearUpIn(u); up != "" {
			add("One gear up", "%s", up)
		}
		for i := range h.Surfaces {
			s := &h.Surfaces[i]
			allowed := "NOT by this advice"
			if s.Allowed {
				allowed = "the stage may be used"
			}
			add("On "+s.Surface, "%s", allowed)
		}
	} else if h.MissingPowerW > 0 {
		add("Missing", "%.0f kW of retarding power", math.Ceil(h.MissingPowerW/1000))
	}
	switch {
	case h.HeaviestMassKg >= holding.HeaviestSearchedKg:
		add("Heaviest that holds", "over %s; the legal limit still applies", u.Mass(holding.HeaviestSearchedKg))
	case h.HeaviestMassKg > 0:
		add("Heaviest that holds", "%s; the legal limit still applies", u.MassDown(h.HeaviestMassKg))
	default:
		add("Heaviest that holds", "none")
	}
	if n := len(h.Heat); n > 0 && h.LimitedBy != catalog.LimitFriction {
		add("Service brakes, if leant on", "about %s at the foot (%s); not advice", u.Temp(h.Heat[n-1].TempC), h.HeatCaseIn(u))
	}
	return w
}

// mostQuestionBytes limits a question with a file of classes in it.
const mostQuestionBytes = 1 << 20

// AskJSON answers a question on a plain grade in JSON; an error is an object with the one key "error".
func AskJSON(question []byte, classes []vehicle.Class) []byte {
	return NewAsker(classes, nil).AskJSON(question)
}

// AskJSON answers a question in JSON; an error is an object with the one key "error".
func (k *Asker) AskJSON(question []byte) []byte {
	var a *Answer
	var err error
	switch {
	case len(question) > mostQuestionBytes:
		err = &catalog.Fault{Kind: catalog.ErrImpossible, What: "the question is too long"}
	default:
		var asked struct {
			Question
			Typed *Typed `json:"typed"` // replaces all other keys
		}
		if err = json.Unmarshal(question, &asked); err == nil && asked.Typed != nil {
			asked.Question, err = asked.Typed.Question()
		}
		if err == nil {
			a, err = k.Ask(asked.Question)
		}
	}
	var out []byte
	if err == nil {
		out, err = json.Marshal(a)
	}
	if err != nil {
		out, _ = json.Marshal(map[string]string{"error": wording.OneLine(err.Error())}) // a text: it cannot fail
	}
	return out
}
