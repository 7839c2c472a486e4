package survey

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/grade"
)

// DrivesSay is what the kept drives say of a descent.
type DrivesSay struct {
	Descent             string         `json:"descent"`
	Drives              int            `json:"drives"`             // that pass over it
	Used                int            `json:"used"`               // that agree with the road
	MeanDowngradePct    float64        `json:"mean_downgrade_pct"` // mean downgrade with the drives; 0 where none is used
	MeanDowngradeErrPct float64        `json:"mean_downgrade_err_pct"`
	ContradictsWhy      string         `json:"contradicts_why"` // empty where they do not
	Findings            []DriveFinding `json:"findings"`

	fused *routes.Profile
	entry *catalog.Entry
}

// SayDrives compares the kept drives with the grade line of a descent. It returns nil where no
// drive passes over it.
func SayDrives(ctx context.Context, cat *store.Catalog, e *catalog.Entry) (*DrivesSay, error) {
	passes, err := cat.Drives(ctx, e.Descent.Route, true)
	if err != nil || len(passes) == 0 {
		return nil, err
	}
	p, err := cat.Profile(ctx, e.Descent.ID)
	if errors.Is(err, catalog.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	signs, err := cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Kind: catalog.SignStands})
	if err != nil {
		return nil, err
	}
	say, err := sayDrives(ctx, passes, p, e)
	if say != nil {
		say.entry = e
		say.find(passes, p, &e.Descent, signs)
	}
	return say, err
}

func sayDrives(ctx context.Context, passes []catalog.DrivePass, p *routes.Profile, e *catalog.Entry) (*DrivesSay, error) {
	d, s := &Drives{}, &e.Descent
	d.addKept(passes)
	p.Noise = grade.NoiseOf(p.CellM, e.Provenance.NoiseM)
	uses, list := d.onRoad(p)
	lo, hi := min(s.StartM, s.EndM), max(s.StartM, s.EndM)
	say := &DrivesSay{Descent: s.ID}
	if len(list) == 0 {
		return nil, nil
	}
	q, fits, err := grade.Fuse(ctx, p, list)
	if err != nil {
		return nil, err
	}
	var against []drop
	over, used := map[string]bool{}, map[string]bool{}
	for i, f := range fits {
		if f.FromM >= hi || f.ToM <= lo {
			continue
		}
		over[uses[i].File] = true
		if f.IsUsed {
			used[uses[i].File] = true
		} else if x, ok := dropOf(p, &list[i], lo, hi); ok {
			x.file = uses[i].File
			against = append(against, x)
		}
	}
	if say.Drives, say.Used = len(over), len(used); say.Drives == 0 {
		return nil, nil
	}
	if say.Used > 0 {
		say.fused = q
		say.MeanDowngradePct = math.Abs(q.ElevationAtM(s.StartM)-q.ElevationAtM(s.EndM)) / s.LengthM * 100
		say.MeanDowngradeErrPct = q.MeanErrPct(lo, hi)
		if math.Abs(say.MeanDowngradePct-s.MeanDowngradePct) > s.MeanDowngradeErrPct {
			say.ContradictsWhy = fmt.Sprintf("%s: with them the mean downgrade is %s, the catalogue has %s", wording.Counted(say.Used, "recorded drive"),
				catalog.GradeWithBound(say.MeanDowngradePct, say.MeanDowngradeErrPct), catalog.GradeWithBound(s.MeanDowngradePct, s.MeanDowngradeErrPct))
		}
	}
	if say.ContradictsWhy == "" && say.Used > 0 {
		say.ContradictsWhy = windowAgainst(p, q, say.Used, lo, hi)
	}
	if say.ContradictsWhy == "" {
		say.ContradictsWhy = agreeAgainst(against, s)
	}
	return say, nil
}

// Windows of a descent in which the drives may contradict the catalogue while the means agree. A
// descent has some twenty of them, so each may leave its 95 % bound by half: three standard
// deviations.
const (
	windowM     = 1000.0
	windowStepM = 250.0
	windowShare = 1.5
)

// windowAgainst says in words where the mean grade over a window contradicts the catalogue most;
// empty where it does nowhere.
func windowAgainst(p, q *routes.Profile, drives int, loM, hiM float64) string {
	worst, words := 1.0, ""
	for a := loM; a+windowM <= hiM; a += windowStepM {
		was, is := 100*(p.ElevationAtM(a+windowM)-p.ElevationAtM(a))/windowM, 100*(q.ElevationAtM(a+windowM)-q.ElevationAtM(a))/windowM
		errPct := p.MeanErrPct(a, a+windowM)
		if by := math.Abs(is-was) / (windowShare * errPct); by > worst {
			worst = by
			words = fmt.Sprintf("%s: with them the mean grade from station %.0f to %.0f m is %s, the catalogue has %s", wording.Counted(drives, "recorded drive"), a, a+windowM,
				catalog.GradeWithBound(math.Abs(is), q.MeanErrPct(a, a+windowM)), catalog.GradeWithBound(math.Abs(was), errPct))
		}
	}
	return words
}

// drop is what a drive alone says of the mean grade between two stations.
type drop struct {
	file          string
	drivePct      float64
	cataloguePct  float64
	boundPct      float64
	shareOfLength float64
}

const (
	dropLeastShare = 0.8  // of a descent that a drive must cover to speak of its mean
	dropScale      = 0.15 // of a mean grade: more than weather and barometer can make
	dropDriftM     = 8.0  // over 10 km
)

// dropOf is the mean grade of a drive that was left out, where it covers most of a descent.
func dropOf(p *routes.Profile, d *grade.Drive, loM, hiM float64) (x drop, ok bool) {
	a, b := -1, -1
	for i, s := range d.StationM {
		if s < loM || s > hiM || math.IsNaN(d.HeightM[i]) {
			continue
		}
		if a < 0 || s < d.StationM[a] {
			a = i
		}
		if b < 0 || s > d.StationM[b] {
			b = i
		}
	}
	if a < 0 {
		return x, false
	}
	lengthM := d.StationM[b] - d.StationM[a]
	if x.shareOfLength = lengthM / (hiM - loM); x.shareOfLength < dropLeastShare {
		return x, false
	}
	x.drivePct = 100 * (d.HeightM[b] - d.HeightM[a]) / lengthM
	x.cataloguePct = 100 * (p.ElevationAtM(d.StationM[b]) - p.ElevationAtM(d.StationM[a])) / lengthM
	x.boundPct = dropScale*math.Abs(x.cataloguePct) + 100*dropDriftM*math.Sqrt(lengthM/10e3)/lengthM
	return x, true
}

// agreeAgainst says in words that two or more drives, which were left out, agree against the
// catalogue; empty where they do not.
func agreeAgainst(list []drop, s *routes.Descent) string {
	up, down := map[string]bool{}, map[string]bool{}
	sum, n := 0.0, 0
	for _, x := range list {
		by := x.drivePct - x.cataloguePct
		if math.Abs(by) <= x.boundPct+s.MeanDowngradeErrPct {
			continue
		}
		if by > 0 {
			up[x.file] = true
		} else {
			down[x.file] = true
		}
		sum, n = sum+math.Abs(x.drivePct), n+1
	}
	if len(up) < 2 && len(down) < 2 || len(up) > 0 && len(down) > 0 {
		return ""
	}
	return fmt.Sprintf("%d recorded drives say a mean grade of %.1f %%, the catalogue has %s", n, sum/float64(n), catalog.GradeWithBound(s.MeanDowngradePct, s.MeanDowngradeErrPct))
}

// questionByDrives puts the reviewed descents of a road that its drives contradict in question.
func questionByDrives(ctx context.Context, cat *store.Catalog, route, by string) ([]store.Question, error) {
	es, err := cat.Descents(ctx, store.Filter{Route: route, NoHolds: true})
	if err != nil {
		return nil, err
	}
	var out []store.Question
	for i := range es {
		e := &es[i]
		if e.Descent.Route != route {
			continue
		}
		if st := e.Review.State; st != catalog.Approved && st != catalog.FieldChecked {
			continue
		}
		say, err := SayDrives(ctx, cat, e)
		if err != nil {
			return nil, err
		}
		if say == nil || say.ContradictsWhy == "" {
			continue
		}
		out = append(out, store.Question{ID: e.Descent.ID, Why: say.ContradictsWhy})
	}
	return out, cat.AddQuestions(ctx, out, by)
}
