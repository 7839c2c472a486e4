package signs

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gradeline/terrain"
)

// The action at a post.
const (
	ActionInstall = "install"
	ActionMove    = "move"
	ActionReplace = "replace" // the face shows a wrong figure; the post stays
	ActionKeep    = "keep"
	ActionRemove  = "remove"
	ActionDecide  = "decide" // an engineer must decide first: in doubt, or advice
	ActionLeave   = "leave"  // exists, and this schedule does not judge it
)

// Actions are all of them, in the order of a bill of quantities.
var Actions = []string{ActionInstall, ActionMove, ActionReplace, ActionKeep, ActionRemove, ActionDecide, ActionLeave}

// PostOptions describe the road of the posts and the existing signs.
type PostOptions struct {
	Road      string   // class of the rule set's roads; empty takes its first
	EdgeM     *float64 // from the road's line to the edge of the travelled way; nil: the rule set's
	OffsetM   *float64 // from that edge to the post; nil likewise
	Mileposts []Milepost
	IsAudited bool       // Standing are the existing signs, if KnowsStanding
	Standing  []Standing // from Locate
	Audit     AuditOptions
}

// Post is one post with its signs.
type Post struct {
	Number      int      `json:"post"` // in travel order
	Action      string   `json:"action"`
	StationM    float64  `json:"station_m"`
	StationErrM float64  `json:"station_err_m"`
	Milepost    *float64 `json:"milepost"`
	Side        string   `json:"side"`
	OffsetM     float64  `json:"offset_m"` // from the edge of the travelled way
	FromLineM   float64  `json:"from_line_m"`
	OnLine      bool     `json:"on_line"`
	LonDeg      float64  `json:"longitude_deg"` // of the post itself
	LatDeg      float64  `json:"latitude_deg"`
	Faces       []Face   `json:"faces"`
}

// Face is one sign or plaque on a post.
type Face struct {
	Sign        int      `json:"sign_number"` // of the schedule; 0 for an existing sign that is not in it
	Action      string   `json:"action"`
	Designation string   `json:"designation"`
	IsPlaque    bool     `json:"plaque"`
	Name        string   `json:"sign"`
	Legend      string   `json:"legend"`
	Shape       string   `json:"shape"`
	Size        string   `json:"size"`
	SizeStatus  string   `json:"size_status"` // status of the size's source
	Need        string   `json:"need"`
	Standing    string   `json:"standing"` // the existing sign that matches it, with its id
	FromM       *float64 `json:"moved_from_station_m"`
	Photo       string   `json:"photo"`
	Why         string   `json:"why"`
}

// road finds the requested class of road.
func (rs *RuleSet) road(id string) (RoadClass, error) {
	var ids []string
	for _, r := range rs.Roads {
		if r.ID == id || id == "" {
			return r, nil
		}
		ids = append(ids, r.ID)
	}
	return RoadClass{}, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%s has no road class %q", rs.ID, id), Fix: "use one of " + strings.Join(ids, ", ")}
}

// PlanPosts works out the posts of the schedule: which signs share one, its place at the roadside,
// and the action at it. It fills Posts, Road and Mileposts.
//
// Errors: terrain.ErrInput for a road class that the rule set does not have, an impossible
// distance, or mileposts that are not monotonic.
func (s *Schedule) PlanPosts(o PostOptions) error {
	road, err := s.rules.road(o.Road)
	if err != nil {
		return err
	}
	for _, d := range []struct {
		given *float64
		to    *float64
	}{{o.EdgeM, &road.EdgeM}, {o.OffsetM, &road.OffsetM}} {
		if d.given == nil {
			continue
		}
		if !(*d.given >= 0 && *d.given <= 100) {
			return &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%.1f m from road to post", *d.given), Fix: "use a distance between 0 and 100 m"}
		}
		*d.to = *d.given
	}
	if s.Mileposts, err = NewMilepostScale(o.Mileposts, s.Units); err != nil {
		return err
	}
	s.Road = road
	b := &postBuilder{s: s}
	if o.IsAudited {
		b.audit = newAuditor(s, o.Standing, o.Audit)
		b.audit.match()
	}
	b.scheduled()
	if o.IsAudited {
		b.standing(o.Standing)
	}
	slices.SortStableFunc(b.out, func(x, y Post) int { return cmp.Compare(s.line.pastM(x.StationM), s.line.pastM(y.StationM)) })
	for i := range b.out {
		p := &b.out[i]
		p.Number, p.Action = i+1, postAction(p.Faces)
		if v := s.Mileposts.Value(p.StationM); !math.IsNaN(v) {
			p.Milepost = &v
		}
	}
	s.Posts = b.out
	return nil
}

// postAction is the action at a post whose faces may differ: the most important one.
func postAction(faces []Face) string {
	for _, a := range []string{ActionMove, ActionInstall, ActionReplace, ActionRemove, ActionKeep, ActionDecide} {
		if slices.ContainsFunc(faces, func(f Face) bool { return f.Action == a }) {
			return a
		}
	}
	return ActionLeave
}

// postBuilder builds the posts of one schedule.
type postBuilder struct {
	s     *Schedule
	audit *auditor // nil where no existing signs are known
	out   []Post
}

// scheduled makes a post for each sign, on each of its sides. Signs that share a post are put on
// the same one.
func (b *postBuilder) scheduled() {
	at := map[string]int{} // sign number and side → index in out
	for i := range b.s.Placements {
		p := &b.s.Placements[i]
		for _, side := range sidesOf(p.Side) {
			key := fmt.Sprint(cmp.Or(p.PostOf, p.Number), side)
			k, ok := at[key]
			if !ok {
				k = len(b.out)
				at[key] = k
				b.out = append(b.out, b.post(p.StationM, p.ErrM, side))
			}
			b.out[k].Faces = append(b.out[k].Faces, b.faces(i)...)
		}
	}
}

func sidesOf(side string) []string {
	if side == "both" {
		return []string{"right", "left"}
	}
	return []string{side}
}

// post is an empty post at the roadside.
func (b *postBuilder) post(stationM, errM float64, side string) Post {
	r := &b.s.Road
	p := Post{StationM: stationM, StationErrM: errM, Side: side, OffsetM: r.OffsetM, FromLineM: r.EdgeM + r.OffsetM}
	if lon, lat, ok := b.s.line.besideLine(stationM, side, p.FromLineM); ok {
		p.OnLine, p.LonDeg, p.LatDeg = true, lon, lat
	}
	return p
}

// faces are a scheduled sign and its plaques, each with its action.
func (b *postBuilder) faces(i int) []Face {
	p := &b.s.Placements[i]
	f := Face{Sign: p.Number, Designation: p.Designation, Name: p.Name, Legend: p.Legend, Shape: p.sign.Shape, Need: p.Need, Action: ActionInstall, Why: p.Why}
	if p.Need == NeedCantTell || p.Need == NeedAdvice || p.Need == NeedCandidate {
		f.Action = ActionDecide
	}
	if b.audit != nil {
		if st := b.audit.byPlacement[i]; st != nil {
			b.standingFor(&f, p, st)
		}
	}
	out := []Face{b.sized(f)}
	for _, code := range p.Plaques {
		q := f
		q.Designation, q.IsPlaque, q.Name, q.Legend, q.Shape, q.Why = code, true, plaqueName, "", ShapeRectangle, ""
		if i := slices.IndexFunc(b.s.rules.Signs, func(t SignType) bool { return t.Designation == code }); i >= 0 {
			t := &b.s.rules.Signs[i] // a sign of its own, as a warning triangle with an escape lane's sign
			q.Name, _, _ = strings.Cut(t.Name, ",")
			q.Shape = t.Shape
		}
		out = append(out, b.sized(q))
	}
	return out
}

// plaqueName is the name of a face that is no sign of its own.
const plaqueName = "plaque"

// standingFor is the action for the existing sign that matches a scheduled one.
func (b *postBuilder) standingFor(f *Face, p *Placement, st *Standing) {
	f.Standing, f.Photo, f.Action = st.label(), st.Photo, ActionKeep
	before := len(b.audit.out)
	b.audit.placed(p, st)
	var why []string
	for _, g := range b.audit.out[before:] {
		why = append(why, g.Reason)
		switch {
		case g.Kind == FindMisplaced:
			from := st.StationM
			f.Action, f.FromM = ActionMove, &from
		case f.Action == ActionKeep:
			f.Action = ActionReplace
		}
	}
	if len(why) > 0 {
		f.Why = strings.Join(why, "; ")
	}
}

// sized adds the edition's size for the road.
func (b *postBuilder) sized(f Face) Face {
	words, key := b.s.rules.size(f.Designation, b.s.Road.ID, b.s.ApproachMPS)
	f.Size, f.SizeStatus = words, b.s.rules.source(key).Status
	return f
}

// standing makes a post of each existing sign that matches no scheduled sign.
func (b *postBuilder) standing(all []Standing) {
	for j := range all {
		st := &all[j]
		if b.audit.takesUp(st) || !b.audit.isHere(st) {
			continue
		}
		f := Face{Action: ActionLeave, Standing: st.label(), Photo: st.Photo, Shape: ShapeRectangle, Need: "stands"}
		if len(st.Codes) > 0 {
			f.Designation = st.Codes[0]
		}
		if f.Why = b.audit.whyNot(b.audit.modern(*st)); f.Why == "" {
			f.Action = ActionRemove
			b.audit.superfluous(st)
			f.Why = b.audit.out[len(b.audit.out)-1].Reason
		}
		p := Post{StationM: st.StationM, StationErrM: b.audit.boundM(st), Side: b.audit.side(st), FromLineM: math.Abs(st.OffsetM), OnLine: true, LonDeg: st.Point[0], LatDeg: st.Point[1], Faces: []Face{b.sized(f)}}
		p.OffsetM = math.Max(0, p.FromLineM-b.s.Road.EdgeM)
		for _, code := range st.Codes[min(1, len(st.Codes)):] {
			q := f
			q.Designation, q.IsPlaque, q.Name, q.Why = code, true, plaqueName, ""
			p.Faces = append(p.Faces, b.sized(q))
		}
		b.out = append(b.out, p)
	}
}

// besideLine is the place at a distance to one side of a station.
func (t *travel) besideLine(stationM float64, side string, fromLineM float64) (lonDeg, latDeg float64, ok bool) {
	at := t.p.PointAt(stationM)
	if !t.onLine(stationM) || math.IsNaN(at[0]+at[1]) {
		return 0, 0, false
	}
	arm := math.Max(5, t.p.StepM)
	var ends []float64
	for _, s := range []float64{stationM - t.sgn()*arm, stationM + t.sgn()*arm} {
		if pt := t.p.PointAt(s); !t.onLine(s) || math.IsNaN(pt[0]+pt[1]) {
			s = stationM // the line's end
		}
		ends = append(ends, s)
	}
	p := t.planM(stationM, ends...)
	dx, dy := p[1][0]-p[0][0], p[1][1]-p[0][1]
	l := math.Hypot(dx, dy)
	if l == 0 {
		return 0, 0, false
	}
	right := 1.0
	if side == "left" {
		right = -1
	}
	lon, lat := lonLatFromPlanM(at, right*dy/l*fromLineM, -right*dx/l*fromLineM)
	return lon, lat, true
}
