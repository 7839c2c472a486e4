package page

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
)

// Trip is the input of the driver's page of a trip. Stations are along the
// way, in travel.
type Trip struct {
	From, To   string // in words
	Over       string // the road; may be empty
	Class      string
	ClassLabel string // for people; Class where empty
	MassKg     float64
	LengthM    float64
	TimeS      float64 // +Inf where it is not known
	Entries    []catalog.Entry
	Sites      []TripSite
	View       plot.WayView
	Notes      []string // limits that the road data does not state
	Sources    []string // of roads and terrain, with their licences
	Units      catalog.Units
	Printed    time.Time
}

// TripSite is a place along the way.
type TripSite struct {
	catalog.Site
	AtM float64
}

// tripPage is the page in words: HTML and PDF print the same.
type tripPage struct {
	Title, Class, Says string
	Head               string // the answer in capitals
	Narrowed           string
	Banner             string
	Rows               []tripRow
	Surfaces           string
	Rise               string // what to do when speed rises; empty where nothing is advised
	Notes              []string
	Cautions           []string
	Sources            []string
	Stamp              string
}

// tripRow is one action or place.
type tripRow struct {
	No            string // of a hill, at its crest
	First, Second string // distance from the start, in both unit systems
	What          string
	IsStrong      bool // an action
	IsLoud        bool // not held, or not known
	atM           float64
	order         int // of rows at one place
}

// TripHead is the heading of the list.
const tripHead = "In order of the road: distance from the start (hills by number, as on the profile)"

func (t *Trip) other() catalog.Units {
	if t.Units == catalog.US {
		return catalog.Metric
	}
	return catalog.US
}

// both writes a figure in the page's units with the other system after it.
func (t *Trip) both(of func(u catalog.Units) string) string {
	return of(t.Units) + " (" + of(t.other()) + ")"
}

// page puts the trip into words.
func (t *Trip) page() tripPage {
	label := wording.Plain(t.ClassLabel)
	if label == "" {
		label = wording.Plain(t.Class)
	}
	p := tripPage{Title: "From " + wording.Plain(t.From) + " to " + wording.Plain(t.To), Class: wording.WithoutMass(label) + t.masses(),
		Cautions: catalog.Cautions(), Notes: t.Notes, Sources: t.Sources}
	if t.Over != "" {
		p.Title += ", by " + wording.Plain(t.Over)
	}
	if wording.AnyInvented(t.Entries) || t.View.Invented {
		p.Banner = wording.InventedBanner
	}
	if !t.Printed.IsZero() {
		p.Stamp = "Printed " + t.Printed.Format("2006-01-02") + "."
	}
	t.answer(&p)
	t.addCautions(&p)
	p.Says = fmt.Sprintf("%s, %s.", t.both(func(u catalog.Units) string { return u.Length(t.LengthM) }), wording.Counted(len(t.Entries), "hill"))
	if !math.IsInf(t.TimeS, 1) {
		minutes := int(math.Ceil(t.TimeS / 60))
		p.Says = fmt.Sprintf("%s, about %d:%02d h without stops, %s.", t.both(func(u catalog.Units) string { return u.Length(t.LengthM) }), minutes/60, minutes%60, wording.Counted(len(t.Entries), "hill"))
	}
	p.Rows = t.rows()
	for i := range t.Entries {
		if h := catalog.HoldFor(t.Entries[i].Holds, t.Class); h != nil && h.Weather != nil {
			p.Notes = append(slices.Clone(p.Notes), "For "+h.Weather.WordsInBoth(t.Units, t.other())+". In other weather ask the office.")
			break
		}
	}
	return p
}

// answer is the answer at the top: the worst of all hills.
func (t *Trip) answer(p *tripPage) {
	p.Head = "EVERY HILL HOLDS ON THE RETARDER ALONE"
	if len(t.Entries) == 0 {
		p.Head = "NO LONG DOWNGRADE FOUND"
	}
	var out []string
	isUnknown := len(t.View.UnknownM) > 0
	if t.isOnEngineDrag() {
		p.Head = "EVERY HILL HOLDS ON ENGINE DRAG ALONE: NO RETARDER"
	}
	for i := range t.Entries {
		a, h, _ := wording.AnswerFor(&t.Entries[i], t.Class)
		switch {
		case a == wording.NotHeld:
			p.Head = "NOT HELD: DO NOT DRIVE THIS WAY WITH THIS TRUCK"
			return
		case a == wording.Unknown:
			isUnknown = true
		default:
			if h.IsDryRoadOnly() {
				p.Narrowed = catalog.DryRoadOnly
			}
			for _, s := range h.SurfacesOut {
				if !slices.Contains(out, s) {
					out = append(out, s)
				}
			}
		}
	}
	if isUnknown {
		p.Head = "UNKNOWN IN PARTS: DO NOT DRIVE THIS WAY BECAUSE OF THIS PAGE"
	}
	if len(out) > 0 {
		p.Surfaces = "Not on these surfaces: " + strings.Join(out, ", ") + ". There, wait or take another way."
	}
}

// rows lists hills, actions and places in the order of the road.
func (t *Trip) rows() []tripRow {
	var out []tripRow
	add := func(atM float64, order int, what string, isStrong, isLoud bool) *tripRow {
		atM = math.Max(0, math.Min(atM, t.LengthM))
		out = append(out, tripRow{First: fromStart(atM, t.Units), Second: fromStart(atM, t.other()), What: what, IsStrong: isStrong, IsLoud: isLoud, atM: atM, order: order})
		return &out[len(out)-1]
	}
	for i := range t.Entries {
		t.hill(i, add)
	}
	for _, u := range t.View.UnknownM {
		add(u[0], 2, fmt.Sprintf("UNKNOWN GROUND for %s: grades here are not known.", t.both(func(x catalog.Units) string { return x.Length(u[1] - u[0]) })), true, true)
	}
	for _, s := range t.Sites {
		name := strings.TrimPrefix(siteWords(s.Site), wording.Plain(s.Kind.Words()))
		switch s.Kind {
		case catalog.SignStands:
			continue
		case catalog.BrakeCheck:
			add(s.AtM, 0, "STOP: BRAKE CHECK AREA"+name, true, false)
		case catalog.EscapeRamp:
			add(s.AtM, 4, "ESCAPE RAMP"+name, true, false)
		default:
			add(s.AtM, 4, capital(siteWords(s.Site)), false, false)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if math.Abs(out[i].atM-out[j].atM) > 0.5 {
			return out[i].atM < out[j].atM
		}
		return out[i].order < out[j].order
	})
	return out
}

// hill adds the actions on a hill, from before its crest to its foot.
func (t *Trip) hill(i int, add func(atM float64, order int, what string, isStrong, isLoud bool) *tripRow) {
	e := &t.Entries[i]
	d := &e.Descent
	a, h, why := wording.AnswerFor(e, t.Class)
	crest := fmt.Sprintf("Hill %d begins: %s down at %s mean, steepest %s; drops %s. ", i+1, t.both(func(u catalog.Units) string { return u.Length(d.LengthM) }),
		wording.MeanWithBound(d), wording.Downgrade(d.Steepest500Pct), t.both(func(u catalog.Units) string { return u.Height(d.DropM) }))
	switch a {
	case wording.NotHeld:
		add(d.StartM, 3, crest+"NOT HELD: no gear holds this truck here.", true, true).No = fmt.Sprint(i + 1)
		return
	case wording.Unknown:
		add(d.StartM, 3, crest+"UNKNOWN: "+why+".", true, true).No = fmt.Sprint(i + 1)
		return
	}
	if e.Review.InQuestion != "" {
		crest += wording.QuestionWords(e) + ". "
	}
	if h.IsDryRoadOnly() {
		crest += catalog.DryRoadOnly + ". "
	}
	if !t.hasCheckBefore(d.StartM) {
		add(h.SlowFromM-1, 0, fmt.Sprintf("Check the brakes before hill %d: no brake check area is on record.", i+1), true, false)
	}
	if h.ApproachSpeedMPS > 0 && h.SlowFromM < h.GearByM-1 {
		add(h.SlowFromM, 1, fmt.Sprintf("SLOW DOWN from here, for hill %d: from %s to %s", i+1, t.both(func(u catalog.Units) string { return u.Speed(h.ApproachSpeedMPS) }), t.both(func(u catalog.Units) string { return u.Speed(h.SpeedMPS) })), true, false)
	}
	speed := func(u catalog.Units) string { return u.Speed(h.SpeedMPS) }
	shifts := "No shift on the hill."
	if hasShifts(h) {
		shifts = "Keep it all the way, or shift only as the list says."
	}
	add(h.GearByM, 2, fmt.Sprintf("GEAR %s IN, %s, at most %s. %s", h.GearLabel(), wording.Plain(h.StageWords()), t.both(speed), shifts), true, false)
	band := ""
	if h.SpeedLowMPS > 0 {
		band = fmt.Sprintf("Switch the stage off at %s and on again at %s.", t.both(func(u catalog.Units) string { return u.Speed(h.SpeedLowMPS) }), t.both(speed))
	}
	add(d.StartM, 3, strings.TrimSpace(crest+band), false, false).No = fmt.Sprint(i + 1)
	t.stretches(h, i, add)
	add(d.EndM, 5, fmt.Sprintf("Foot of hill %d", i+1), false, false)
}

// stretches adds where speed, gear or stage change on a hill.
func (t *Trip) stretches(h *catalog.Hold, i int, add func(atM float64, order int, what string, isStrong, isLoud bool) *tripRow) {
	changes, isCut := shownStretches(h, t.Units)
	last := &catalog.HoldStretch{Gear: h.Gear, Levers: h.Levers, SpeedMPS: h.SpeedMPS}
	for k := range changes {
		x := &changes[k]
		add(x.FromM, 4, stretchWords(x, h, t.both), asksMore(last, x, h), false)
		last = x
	}
	if isCut {
		at := h.GearByM
		if len(changes) > 0 {
			at = changes[len(changes)-1].FromM
		}
		add(at, 4, fmt.Sprintf("From here on, on hill %d: the figures at its crest hold all the way.", i+1), false, false)
	}
}

// checkReachM is the distance before a crest within which a brake check area serves its hill: brakes
// that were cold there are cold at the crest (common practice, no source).
const checkReachM = 10000.0

// hasCheckBefore reports whether there is a brake check area on the way before a crest.
func (t *Trip) hasCheckBefore(crestM float64) bool {
	return slices.ContainsFunc(t.Sites, func(s TripSite) bool {
		return s.Kind == catalog.BrakeCheck && s.AtM <= crestM+100 && s.AtM >= crestM-checkReachM
	})
}

// fromStart is a distance from the start to the nearest step; rows with an action are already
// placed early.
func fromStart(atM float64, u catalog.Units) string {
	if u == catalog.US {
		return fmt.Sprintf("%.1f mi", math.Floor(catalog.MiFromM(atM)*10)/10)
	}
	return fmt.Sprintf("%.1f km", math.Floor(atM/100)/10)
}

// marks adds the letters of the places to the view.
func (t *Trip) marks() plot.WayView {
	v := t.View
	v.Places = nil
	letters := map[catalog.SiteKind]string{catalog.BrakeCheck: "B", catalog.EscapeRamp: "E", catalog.ChainUp: "C", catalog.Pullout: "P"}
	for _, s := range t.Sites {
		if l := letters[s.Kind]; l != "" {
			v.Places = append(v.Places, plot.WayPlace{Letter: l, AtM: s.AtM})
		}
	}
	return v
}
