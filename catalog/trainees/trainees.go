// Package trainees keeps the progress of trainees over their recorded drives, with the
// sign-offs of instructors, in one file of the office's own. Nothing of it is in a
// catalogue, so that the office can delete the file, or one trainee in it, at any time.
//
// The file is JSON: see NOTES.md. Open reads it, File.Add and File.SignOff add to it,
// File.Forget removes a trainee, File.Save writes it complete or not at all and erases
// the former contents. Document makes the page to hand out. A file that is damaged, was
// edited by hand or holds figures that no drive has is refused (terrain.ErrInput).
// Figures are in SI units.
package trainees

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// Schema names the format of the file.
const Schema = "gradeline-trainees/1"

// Trainee is one person with the drives and the sign-offs on file.
type Trainee struct {
	Name     string    `json:"name"`
	Drives   []Drive   `json:"drives"`
	SignOffs []SignOff `json:"sign_offs"`
}

// Drive is what a debrief found on one drive down one hill.
type Drive struct {
	At      time.Time `json:"at"` // the run's start; zero where the recording has no clock
	Added   time.Time `json:"added"`
	Descent string    `json:"descent"`
	Hill    string    `json:"hill"` // its name and direction
	Class   string    `json:"class"`
	// Invented marks a drive of a demonstration.
	Invented bool `json:"invented"`

	MassKg     float64 `json:"mass_kg"`
	AdvisedMPS float64 `json:"advised_speed_mps"` // 0 without advice
	MostMPS    float64 `json:"most_mps"`
	OverS      float64 `json:"over_s"`
	OnHillS    float64 `json:"on_hill_s"`
	NeutralS   float64 `json:"in_neutral_s"`
	CoveredPct float64 `json:"covered_pct"`
	MustWorkJ  float64 `json:"service_brakes_at_least_j"`

	Crest      string    `json:"crest"`       // the verdict on the crest rule
	BrakeCheck string    `json:"brake_check"` // one of the Check… values
	Applied    *BrakeUse `json:"brake_use"`   // null where no brake switch is recorded

	WellDone []string `json:"well_done"` // the lines of the debrief, in the units of the class's country
	ToChange []string `json:"to_change"`
	Open     []string `json:"open"` // what the recording could not show
}

// BrakeUse is the use of the service brakes by their switch.
type BrakeUse struct {
	Count    int     `json:"count"`
	Drags    int     `json:"drags"`
	TotalS   float64 `json:"total_s"`
	LongestS float64 `json:"longest_s"`
}

// What a recording says of the brake check area before the hill.
const (
	CheckStopped = "stopped"
	CheckPassed  = "passed"
	CheckUnseen  = "not recorded"
	CheckNone    = "none on record"
)

// SignOff is an instructor's decision that a trainee may drive a hill alone.
type SignOff struct {
	Descent    string    `json:"descent"`
	Hill       string    `json:"hill"`
	Class      string    `json:"class"`
	Instructor string    `json:"instructor"`
	On         time.Time `json:"on"`     // the day, at midnight UTC
	Drives     int       `json:"drives"` // down that hill with that class on file then
	Note       string    `json:"note"`
}

// Verdict is the three lines of a debrief.
type Verdict struct{ WellDone, ToChange, Open []string }

// DriveFromDebrief is a drive as it is kept: figures and verdict, no places and no times
// along the way.
func DriveFromDebrief(d *debrief.Debrief, hill string, v Verdict, added time.Time) Drive {
	out := Drive{Added: added.UTC().Truncate(time.Second), Descent: d.Descent, Hill: hill, Class: d.Class, MassKg: d.MassKg, AdvisedMPS: d.AdvisedMPS,
		MostMPS: d.MostMPS, OverS: d.OverS, OnHillS: d.OnHillS, NeutralS: d.NeutralS, CoveredPct: d.CoveredPct, MustWorkJ: d.Brakes.AtLeastJ,
		Crest: d.Crest.Verdict, BrakeCheck: CheckNone, WellDone: v.WellDone, ToChange: v.ToChange, Open: v.Open}
	if d.IsClock {
		out.At = d.From.UTC()
	}
	for i := range d.Places {
		p := &d.Places[i]
		if p.Kind != catalog.BrakeCheck || p.DistanceM > 50 { // as in the debrief's verdict
			continue
		}
		switch {
		case p.StopS > 0:
			out.BrakeCheck = CheckStopped
		case p.IsUnseen && out.BrakeCheck != CheckStopped:
			out.BrakeCheck = CheckUnseen
		case out.BrakeCheck == CheckNone:
			out.BrakeCheck = CheckPassed
		}
	}
	if u := d.Applied; u != nil {
		out.Applied = &BrakeUse{u.Count, u.Drags, u.TotalS, u.LongestS}
	}
	return out
}

// IsClean reports whether the recording covers the hill and shows nothing to change.
func (d *Drive) IsClean() bool {
	const completePct = 98 // as in the debrief
	return d.AdvisedMPS > 0 && d.CoveredPct >= completePct && len(d.ToChange) == 0
}

// HillDrives are a trainee's drives down one hill with one class, in order of time.
type HillDrives struct {
	Descent, Hill, Class string
	Drives               []Drive
	SignOff              *SignOff // the last one; nil for none
}

// CleanOnEnd counts the clean drives since the last that was not.
func (h *HillDrives) CleanOnEnd() int {
	n := 0
	for i := len(h.Drives) - 1; i >= 0 && h.Drives[i].IsClean(); i-- {
		n++
	}
	return n
}

// byEntry are the drives in the order in which they were put on file.
func (h *HillDrives) byEntry() []Drive {
	out := slices.Clone(h.Drives)
	slices.SortStableFunc(out, func(a, b Drive) int { return a.Added.Compare(b.Added) })
	return out
}

// wasCleanThen reports whether the last drive that was on file at the sign-off was clean.
func (h *HillDrives) wasCleanThen() bool {
	n := min(h.SignOff.Drives, len(h.Drives))
	return n > 0 && h.byEntry()[n-1].IsClean()
}

// Since counts the drives that were added after the sign-off, and reports whether all were clean.
func (h *HillDrives) Since() (drives int, clean bool) {
	clean = true
	if h.SignOff == nil {
		return 0, clean
	}
	for _, d := range h.byEntry()[min(h.SignOff.Drives, len(h.Drives)):] {
		drives, clean = drives+1, clean && d.IsClean()
	}
	return drives, clean
}

// Hills groups the drives by hill and class, in order of the first drive.
func (t *Trainee) Hills() []HillDrives {
	var out []HillDrives
	for _, d := range t.Drives {
		i := slices.IndexFunc(out, func(h HillDrives) bool { return h.Descent == d.Descent && h.Class == d.Class })
		if i < 0 {
			i = len(out)
			out = append(out, HillDrives{Descent: d.Descent, Hill: d.Hill, Class: d.Class})
		}
		out[i].Drives = append(out[i].Drives, d)
	}
	for i := range out {
		h := &out[i]
		slices.SortStableFunc(h.Drives, func(a, b Drive) int { return a.when().Compare(b.when()) })
		for k := range t.SignOffs {
			if s := &t.SignOffs[k]; s.Descent == h.Descent && s.Class == h.Class {
				h.SignOff = s
			}
		}
	}
	return out
}

// when is the moment of a drive, or of its entry where the recording has no clock.
func (d *Drive) when() time.Time {
	if d.At.IsZero() {
		return d.Added
	}
	return d.At
}

// Trainee finds a person by name, in any case. Error: catalog.ErrNotFound with the names on file.
func (f *File) Trainee(name string) (*Trainee, error) {
	i := f.index(name)
	if i < 0 {
		names := []string{}
		for _, t := range f.Trainees {
			names = append(names, t.Name)
		}
		return nil, f.fault(catalog.ErrNotFound, "has no trainee "+quoted(name), "use a name on file: "+wording.Shortened(strings.Join(names, ", "), 300))
	}
	return &f.Trainees[i], nil
}

func (f *File) index(name string) int {
	name = spaced(name)
	return slices.IndexFunc(f.Trainees, func(t Trainee) bool { return strings.EqualFold(t.Name, name) })
}

// Add puts a drive on file for a trainee, who is added where the name is new. A drive that
// is on file already is refused: fs.ErrExist.
func (f *File) Add(name string, d Drive) error {
	name = spaced(name)
	if err := f.checkText("the trainee's name", name, true); err != nil {
		return err
	}
	if err := f.checkDrive(&d); err != nil {
		return err
	}
	i := f.index(name)
	if i < 0 {
		f.Trainees = append(f.Trainees, Trainee{Name: name, Drives: []Drive{}, SignOffs: []SignOff{}})
		slices.SortStableFunc(f.Trainees, func(a, b Trainee) int { return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)) })
		i = f.index(name)
	}
	t := &f.Trainees[i]
	for k := range t.Drives {
		if old := &t.Drives[k]; old.Descent == d.Descent && old.Class == d.Class && old.At.Equal(d.At) && old.OnHillS == d.OnHillS && old.MostMPS == d.MostMPS {
			return f.fault(fs.ErrExist, "has this drive of "+t.Name+" already", "add another recording")
		}
	}
	t.Drives = append(t.Drives, d)
	return f.checkCounts()
}

// SignOff records an instructor's decision for a hill that the trainee has driven. descent may be
// the beginning of an id. class is needed only where several classes were driven there.
func (f *File) SignOff(name, descent, class string, s SignOff) (SignOff, error) {
	t, err := f.Trainee(name)
	if err != nil {
		return s, err
	}
	s.Instructor, s.Note = spaced(s.Instructor), spaced(s.Note)
	if strings.EqualFold(s.Instructor, t.Name) {
		return s, f.fault(terrain.ErrInput, "takes no sign-off of "+t.Name+" by the same person", "name the instructor")
	}
	h, err := f.driven(t, descent, class)
	if err != nil {
		return s, err
	}
	s.Descent, s.Hill, s.Class, s.Drives = h.Descent, h.Hill, h.Class, len(h.Drives)
	y, m, day := s.On.Date()
	s.On = time.Date(y, m, day, 0, 0, 0, 0, time.UTC)
	if err := f.checkSignOff(&s); err != nil {
		return s, err
	}
	t.SignOffs = append(t.SignOffs, s)
	return s, f.checkCounts()
}

// driven is the one hill and class that a trainee has driven and that the beginning of an id names.
func (f *File) driven(t *Trainee, descent, class string) (*HillDrives, error) {
	var exact, begun []HillDrives
	for _, h := range t.Hills() {
		if class != "" && h.Class != class {
			continue
		}
		if h.Descent == descent {
			exact = append(exact, h)
		}
		if strings.HasPrefix(h.Descent, descent) {
			begun = append(begun, h)
		}
	}
	fit := exact
	if len(fit) == 0 {
		fit = begun
	}
	switch len(fit) {
	case 0:
		return nil, f.fault(catalog.ErrNotFound, "has no drive of "+t.Name+" down "+quoted(descent), "name a descent that was driven, and its class")
	case 1:
		return &fit[0], nil
	}
	return nil, f.fault(catalog.ErrNotFound, fmt.Sprintf("has drives of %s down %d hills or with %d classes that %s names", t.Name, len(fit), len(fit), quoted(descent)), "name one descent, and the class")
}

// Forget removes a trainee with all drives and sign-offs. Save then writes the file without any
// trace of them and erases its former contents.
func (f *File) Forget(name string) error {
	if _, err := f.Trainee(name); err != nil {
		return err
	}
	i := f.index(name)
	f.Trainees = slices.Delete(f.Trainees, i, i+1)
	return nil
}
