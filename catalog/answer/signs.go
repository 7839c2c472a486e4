package answer

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/plansheet"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// Signs are the signs that descents warrant, and the audit of the existing ones.
type Signs struct {
	Schema    string           `json:"schema"`
	RuleSet   string           `json:"rule_set"`
	Schedules []signs.Schedule `json:"schedules"`
	Findings  []signs.Finding  `json:"findings"`
	Skipped   []routes.Skipped `json:"skipped"`
	// SteepParts are outside any descent and need a sign, perhaps in doubt. The place of the sign
	// is not planned.
	SteepParts []SignedPart `json:"steep_parts"`

	located    map[int]bool             // existing signs near a descent, by feature
	judged     map[int]bool             // those that could be judged on a descent
	unjudged   map[int][]routes.Skipped // the reasons for those that could not
	rules      signs.RuleSet
	provenance []catalog.Provenance
}

// SignPlan holds the options that apply to every descent.
type SignPlan struct {
	Rules       signs.RuleSet
	ApproachMPS float64           // before the crest; 0: the rule set's own
	Choices     map[string]string // choices that the edition leaves open
	Panel       []string          // classes on the weight-and-speed panel; nil: those of the rule set's country

	Posts signs.PostOptions // kind of road, mileposts; the existing signs are filled in from Standing

	IsAudit      bool
	Standing     []signs.Standing
	StandingFile string
	Unread       []routes.Skipped // features of that file that are not signs

	// SteepParts of roads outside any descent, which are judged too.
	SteepParts []catalog.SteepPart
}

// ReadStanding reads the existing signs, so that the plan is also an audit.
func (p *SignPlan) ReadStanding(file string, in io.Reader) (err error) {
	p.IsAudit, p.StandingFile = true, file
	p.Standing, p.Unread, err = signs.ParseStanding(file, in)
	return err
}

// NewSigns plans the signs of some entries of a catalogue, and audits the existing ones.
func NewSigns(ctx context.Context, cat *store.Catalog, es []catalog.Entry, plan *SignPlan) (*Signs, error) {
	a := &Signs{Schema: catalog.Schema, RuleSet: plan.Rules.ID, Schedules: []signs.Schedule{}, Findings: []signs.Finding{}, SteepParts: []SignedPart{}, Skipped: notNil(plan.Unread),
		located: map[int]bool{}, judged: map[int]bool{}, unjudged: map[int][]routes.Skipped{}, rules: plan.Rules}
	for i := range es {
		if err := a.addDescent(ctx, cat, &es[i], plan); err != nil {
			return nil, err
		}
		a.provenance = append(a.provenance, es[i].Provenance)
	}
	a.addParts(plan)
	for _, st := range plan.Standing {
		if !a.judged[st.Feature] { // a sign that faces the other way on one descent is judged on another
			for _, k := range a.unjudged[st.Feature] {
				if !slices.Contains(a.Skipped, k) {
					a.Skipped = append(a.Skipped, k)
				}
			}
		}
		if !a.located[st.Feature] {
			a.Skipped = append(a.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, feature %d", plan.StandingFile, st.Feature), Why: "near none of the requested descents"})
		}
	}
	return a, nil
}

// addDescent adds one descent's schedule, and its audit, to the answer.
func (a *Signs) addDescent(ctx context.Context, cat *store.Catalog, e *catalog.Entry, k *SignPlan) error {
	p, err := cat.Profile(ctx, e.Descent.ID)
	if err != nil {
		return err
	}
	in := signs.Input{Descent: e.Descent, Profile: p, Holds: e.Holds, ApproachSpeedMPS: k.ApproachMPS, Choices: k.Choices, PanelClasses: k.Panel}
	dir := e.Descent.Direction
	sites, err := cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Direction: &dir})
	if err != nil {
		return err
	}
	in.Sites = sites
	sch, err := signs.Plan(in, k.Rules)
	if err != nil {
		return err
	}
	o := k.Posts
	if o.IsAudited = k.IsAudit; k.IsAudit {
		o.Standing = a.audit(sch, p, k.Standing)
	}
	if err := sch.PlanPosts(o); err != nil {
		return err
	}
	a.Schedules = append(a.Schedules, sch)
	return nil
}

// audit compares the existing signs along one descent with its schedule, and returns them with
// their stations.
func (a *Signs) audit(sch signs.Schedule, p *routes.Profile, standing []signs.Standing) []signs.Standing {
	const besideM = 40 // farther from the line a sign belongs to another road
	at, _ := signs.Locate(standing, p, besideM)
	o := signs.AuditOptions{}
	for _, st := range at {
		a.located[st.Feature] = true
		if why := signs.Unjudged(sch, []signs.Standing{st}, o); len(why) > 0 {
			a.unjudged[st.Feature] = append(a.unjudged[st.Feature], why...)
		} else {
			a.judged[st.Feature] = true
		}
	}
	a.Findings = append(a.Findings, signs.AuditStanding(sch, at, o)...)
	return at
}

// Gaps are the signs that could not be read, placed or judged, in words.
func (a *Signs) Gaps() []string { return placeGaps(a.Skipped) }

// WriteText writes a table for each schedule and one for the audit, with the columns that
// fit a screen.
func (a *Signs) WriteText(w io.Writer, u catalog.Units) error {
	for i, t := range a.tables(u, false) {
		if i > 0 {
			if _, err := io.WriteString(w, "\n"); err != nil {
				return err
			}
		}
		if err := table.WriteText(w, t); err != nil {
			return err
		}
	}
	return nil
}

// FileWriter is what writes a file, by the ending of its name: .csv, .xlsx or .geojson; nil for another.
func (a *Signs) FileWriter(name string, u catalog.Units) func(io.Writer) error {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv":
		return func(w io.Writer) error { return a.WriteCSV(w, u) }
	case ".xlsx":
		return func(w io.Writer) error { return a.WriteXLSX(w, u) }
	case ".geojson":
		return a.WriteOverlay
	}
	return nil
}

// WriteCSV writes the posts under one header, one row for each face, with the coordinates of each
// post; the schedule's own columns are in the workbook.
func (a *Signs) WriteCSV(w io.Writer, u catalog.Units) error {
	var ts []table.Table
	for i := range a.Schedules {
		ts = append(ts, a.postTable(i, u, true))
	}
	return table.WriteCSV(w, joined(ts))
}

// WriteXLSX writes a sheet for each schedule and one for the audit, all columns.
func (a *Signs) WriteXLSX(w io.Writer, u catalog.Units) error {
	return table.WriteXLSX(w, a.tables(u, true))
}

// WriteOverlay writes the posts at their places along the road as RFC 7946 GeoJSON; each has its
// own id.
func (a *Signs) WriteOverlay(w io.Writer) error {
	o := overlay.PlacesOptions{Kind: "signs", Cautions: []string{catalog.SignCaution}, Notes: []string{a.rules.Title + ": " + a.rules.Edition}, Provenance: a.provenance}
	var ps []overlay.Place
	for i := range a.Schedules {
		for _, f := range a.Schedules[i].Features() {
			ps = append(ps, overlay.Place{ID: fmt.Sprintf("%s/%v", a.Schedules[i].DescentID, f.Properties["post"]), LonDeg: f.LonDeg, LatDeg: f.LatDeg, Properties: f.Properties})
		}
	}
	for i := range a.SteepParts {
		ps = append(ps, a.SteepParts[i].place())
		o.Provenance = append(o.Provenance, a.SteepParts[i].Provenance)
	}
	return overlay.PlacesOverlay(w, ps, o)
}

// SheetSet is the input of the plan sheets of one schedule.
func (a *Signs) SheetSet(i int, u catalog.Units) plansheet.Set {
	from := a.provenance[i]
	return plansheet.Set{Schedule: &a.Schedules[i], Units: u, Source: wording.SourceLine(from), Made: from.At, Tool: wording.Plain(from.Tool), Invented: from.Invented}
}
