package whatif

import (
	"strings"

	"gradeline/catalog"
)

// Typed is a question as a person types it, each quantity with its unit.
type Typed struct {
	Class       string `json:"class"`
	ClassesTOML string `json:"classes_toml"`
	Grade       string `json:"grade"`       // "6%"
	Length      string `json:"length"`      // "5km"
	Mass        string `json:"mass"`        // "36t"; empty for the class's upper end
	Retarder    string `json:"retarder"`    // "80%" of its power; empty for all
	Temperature string `json:"temperature"` // "20C"; empty for the usual weather
	Altitude    string `json:"altitude"`    // "1500m"; empty for the standard atmosphere
	Posted      string `json:"posted"`      // "60km/h"; empty for none
	OwnLine     bool   `json:"own_line"`    // on the grade line of a descent, without grade and length
}

// Question reads the typed text. An error says what was expected.
func (t *Typed) Question() (Question, error) {
	q := Question{Class: t.Class, ClassesTOML: t.ClassesTOML, OwnLine: t.OwnLine}
	var err error
	read := func(text string, parse func(string) (float64, error), isNeeded bool) *float64 {
		if text = strings.TrimSpace(text); err != nil || text == "" && !isNeeded {
			return nil
		}
		var v float64
		v, err = parse(text)
		return &v
	}
	value := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	if !t.OwnLine {
		q.DowngradePct = value(read(t.Grade, catalog.DowngradePct, true))
		q.LengthM = value(read(t.Length, catalog.LengthM, true))
	}
	q.MassKg = value(read(t.Mass, catalog.MassKg, false))
	q.RetarderSharePct = read(t.Retarder, sharePct, false)
	q.TempC = read(t.Temperature, catalog.TempC, false)
	q.AltitudeM = read(t.Altitude, catalog.AltitudeM, false)
	q.PostedMPS = value(read(t.Posted, catalog.SpeedMPS, false))
	return q, err
}

// sharePct reads "80%"; "100%" is all of it.
func sharePct(text string) (float64, error) {
	if strings.ReplaceAll(text, " ", "") == "100%" {
		return 100, nil
	}
	return catalog.DowngradePct(text) // the same form, and likewise under 100 %
}
