package resurvey

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"regexp"
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

// Knowledge is what the histories of two catalogues say about the two reviews of a hill.
type Knowledge struct {
	OursKnowsTheirs, TheirsKnowsOurs bool // a person made it who knew the other
	IsTold                           bool // our history names theirs
}

// MergedReview is the result where two catalogues review a descent differently.
type MergedReview struct {
	Review      catalog.Review
	IsTheirs    bool // theirs, or theirs in question, replaces ours
	HasConflict bool // both were reviewed; a person should decide
	IsDecision  bool // theirs was made in knowledge of ours
}

// MergeReviews decides between two reviews of one descent. A review that nobody made gives way, and
// so does one that the person knew who made the other. Of two others the stricter state holds, in
// question with what the other said; where the states agree, ours holds. Open questions of both
// stay, but for those that such a decision answers.
func MergeReviews(ours, theirs catalog.Review, choice Choice, known Knowledge) MergedReview {
	switch {
	case isSameReview(ours, theirs) || isNobodys(&theirs):
		out := ours
		out.InQuestion = joinEach(ours.InQuestion, theirs.InQuestion)
		return MergedReview{Review: out, HasConflict: out.InQuestion != ours.InQuestion}
	case isNobodys(&ours):
		theirs.InQuestion = joinEach(theirs.InQuestion, ours.InQuestion)
		return MergedReview{Review: theirs, IsTheirs: true}
	case choice == Theirs:
		return MergedReview{Review: theirs, IsTheirs: true, HasConflict: true}
	case choice == Ours:
		return MergedReview{Review: ours, HasConflict: true}
	case known.TheirsKnowsOurs && !known.OursKnowsTheirs:
		out := withMeasurement(theirs, &ours)
		out.InQuestion = joinEach(theirs.InQuestion, withoutConflicts(ours.InQuestion))
		return MergedReview{Review: out, IsTheirs: true, IsDecision: true}
	case known.OursKnowsTheirs && !known.TheirsKnowsOurs:
		out := withMeasurement(ours, &theirs)
		out.InQuestion = joinEach(ours.InQuestion, withoutConflicts(theirs.InQuestion))
		return MergedReview{Review: out}
	}
	kept, other, whose := ours, theirs, anotherSays
	isTheirs := strictness(theirs.State) > strictness(ours.State)
	if isTheirs {
		kept, other, whose = theirs, ours, thisSaid
	}
	out := withMeasurement(kept, &other)
	out.InQuestion = joinEach(kept.InQuestion, other.InQuestion)
	if theirs.State != ours.State {
		out.InQuestion = JoinQuestions(out.InQuestion, whose+ReviewWords(&other)+stricterHolds)
	}
	return MergedReview{Review: out, IsTheirs: isTheirs, HasConflict: true}
}

// The question of two different states. It has no "; ", by which joinEach tells questions apart.
const (
	anotherSays   = "another catalogue says "
	thisSaid      = "this catalogue said "
	stricterHolds = ", the stricter holds until a person decides"
)

var conflictQuestion = regexp.MustCompile("(" + anotherSays + "|" + thisSaid + ").*?" + stricterHolds + "(; )?")

// withoutConflicts removes the questions of different states, which a decision in knowledge of them
// answers.
func withoutConflicts(questions string) string {
	return strings.TrimSuffix(conflictQuestion.ReplaceAllString(questions, ""), "; ")
}

// isNobodys reports whether nobody has reviewed a descent; it may be in question all the same.
func isNobodys(r *catalog.Review) bool {
	return reflect.DeepEqual(*r, catalog.Review{State: catalog.Surveyed, InQuestion: r.InQuestion})
}

// isSameReview reports whether two reviews differ at most in what is in question.
func isSameReview(a, b catalog.Review) bool {
	a.InQuestion, b.InQuestion = "", ""
	return reflect.DeepEqual(a, b)
}

// withMeasurement is a review with the measurement and the photo of another where it has none.
func withMeasurement(r catalog.Review, other *catalog.Review) catalog.Review {
	if r.MeasuredGradePct == nil {
		r.MeasuredGradePct = other.MeasuredGradePct
	}
	r.Photo = cmp.Or(r.Photo, other.Photo)
	return r
}

// ReviewWords describes a review: its state, by whom, when and why.
func ReviewWords(r *catalog.Review) string {
	w := ReviewMark(r)
	if r.Note != "" {
		w += ": " + strings.ReplaceAll(r.Note, "; ", ", ")
	}
	return w
}

// ReviewMark is what tells a review from others of the same descent: state, person and second.
func ReviewMark(r *catalog.Review) string {
	by := cmp.Or(r.By, "nobody named")
	if r.At.IsZero() {
		return fmt.Sprintf("%s by %s", r.State, by)
	}
	return fmt.Sprintf("%s by %s on %s", r.State, by, r.At.UTC().Format("2006-01-02 15:04:05"))
}

// joinEach is JoinQuestions for each question of another catalogue's review.
func joinEach(had, theirs string) string {
	if strings.Contains(had, theirs) {
		return had
	}
	for _, why := range strings.Split(theirs, "; ") {
		had = JoinQuestions(had, why)
	}
	return had
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
