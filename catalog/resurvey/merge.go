package resurvey

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"gradeline/catalog"
)

// Choice is a person's decision on a conflict between two catalogues.
type Choice uint8

const (
	Undecided Choice = iota // the worse news holds until a person decides
	Ours
	Theirs
)

// strictness orders review states by their effect: a descent that nobody has reviewed is trusted
// less than an approved one, and a retired hill is closed.
func strictness(s catalog.ReviewState) int {
	switch s {
	case catalog.Approved:
		return 0
	case catalog.FieldChecked:
		return 1
	case catalog.Retired:
		return 3
	}
	return 2
}

// MergedReview is the result where two catalogues review a descent differently.
type MergedReview struct {
	Review      catalog.Review
	IsTheirs    bool // theirs, or theirs in question, replaces ours
	HasConflict bool // both were reviewed; a person should decide
}

// MergeReviews decides between two reviews of one descent. A review that nobody made
// gives way. Where both were made and their states differ, the stricter one holds, in
// question with what the other said; where the states agree, ours holds.
func MergeReviews(ours, theirs catalog.Review, choice Choice) MergedReview {
	none := catalog.Review{State: catalog.Surveyed}
	switch {
	case reflect.DeepEqual(theirs, ours), reflect.DeepEqual(theirs, none):
		return MergedReview{Review: ours}
	case reflect.DeepEqual(ours, none):
		return MergedReview{Review: theirs, IsTheirs: true}
	case choice == Theirs:
		return MergedReview{Review: theirs, IsTheirs: true, HasConflict: true}
	case choice == Ours:
		return MergedReview{Review: ours, HasConflict: true}
	}
	out := MergedReview{Review: ours, HasConflict: true}
	other, whose := theirs, "another catalogue says "
	if strictness(theirs.State) > strictness(ours.State) {
		out.Review, out.IsTheirs = theirs, true
		other, whose = ours, "this catalogue said "
	}
	if theirs.State != ours.State {
		out.Review.InQuestion = JoinQuestions(out.Review.InQuestion, whose+ReviewWords(&other)+"; the stricter holds until a person decides")
	}
	if theirs.InQuestion != "" && !out.IsTheirs {
		out.Review.InQuestion = JoinQuestions(out.Review.InQuestion, theirs.InQuestion)
	}
	return out
}

// ReviewWords describes a review: its state, by whom, when and why.
func ReviewWords(r *catalog.Review) string {
	w := fmt.Sprintf("%s by %s on %s", r.State, r.By, r.At.Format("2006-01-02"))
	if r.Note != "" {
		w += ": " + r.Note
	}
	return w
}

// WorseNews lists the figures in which another survey of the same descent is more dangerous than
// ours; empty where it is not.
func WorseNews(ours, theirs *catalog.Entry) string {
	var out []string
	a, b := &ours.Descent, &theirs.Descent
	if b.MeanDowngradePct-a.MeanDowngradePct > math.Hypot(a.MeanDowngradeErrPct, b.MeanDowngradeErrPct) {
		out = append(out, fmt.Sprintf("the mean downgrade is %.1f %%, not %.1f %%", b.MeanDowngradePct, a.MeanDowngradePct))
	}
	if b.LengthM-a.LengthM > math.Hypot(math.Hypot(a.StartErrM, a.EndErrM), math.Hypot(b.StartErrM, b.EndErrM)) {
		out = append(out, fmt.Sprintf("it is %.0f m long, not %.0f m", b.LengthM, a.LengthM))
	}
	for _, h := range holdChanges("", ours.Holds, theirs.Holds) {
		if h.OldHolds && (!h.NewHolds || h.NewSpeedMPS < h.OldSpeedMPS) {
			out = append(out, fmt.Sprintf("%s: %s, not %s", h.Class, adviceWords(h.NewHolds, h.NewName, h.NewSpeedMPS), adviceWords(h.OldHolds, h.OldName, h.OldSpeedMPS)))
		}
	}
	return strings.Join(out, "; ")
}

// WithoutQuestion removes one question from those that JoinQuestions joined.
func WithoutQuestion(had, why string) string {
	before, after, found := strings.Cut(had, why)
	if !found || why == "" {
		return had
	}
	return strings.Trim(strings.TrimSuffix(before, "; ")+"; "+strings.TrimPrefix(after, "; "), "; ")
}

// ProposalQuestion is the question of a survey that waits for a person.
func ProposalQuestion(at, words string) string {
	return "survey of " + at[:min(10, len(at))] + " moved it beyond its bounds: " + words + "; accept or refuse it"
}
