package signs

import (
	"fmt"
	"math"
	"sort"

	"gradeline/catalog"
)

// Verdict says whether a criterion is met, as far as the terrain shows.
type Verdict string

// The verdicts.
const (
	Warranted    Verdict = "warranted"
	NotWarranted Verdict = "not warranted"
	CantTell     Verdict = "can't tell from this terrain"
	// Where a standard has no numeric warrant, a stretch is a candidate for an engineer's
	// judgement or too slight for the list.
	Candidate Verdict = "candidate"
	NotListed Verdict = "not listed"
)

// CallsForSign reports whether signs are placed for a stretch, be it in doubt.
func (v Verdict) CallsForSign() bool { return v == Warranted || v == CantTell || v == Candidate }

// forJudgement turns what a list's own floor says into candidates: nothing is warranted.
func (s *Judgement) forJudgement() {
	if s.Verdict == NotWarranted {
		s.Verdict = NotListed
		return
	}
	s.Verdict = Candidate
}

// Judgement is a part of the descent judged by one warrant. FromM and ToM are
// stations in travel order. MeasuredPct is the mean downgrade over the row's
// own length at its steepest place, MarginPct how far that is over the row's
// grade, BoundPct its 95 % half-width: within the bound the verdict is CantTell.
type Judgement struct {
	Warrant     string         `json:"warrant"`
	Words       string         `json:"words"`
	Verdict     Verdict        `json:"verdict"`
	FromM       float64        `json:"start_m"`
	ToM         float64        `json:"end_m"`
	LengthM     float64        `json:"length_m"`
	MeanPct     float64        `json:"mean_downgrade_pct"`
	MeanErrPct  float64        `json:"mean_downgrade_err_pct"`
	Row         string         `json:"row"`
	MeasuredPct float64        `json:"measured_pct"`
	MarginPct   float64        `json:"margin_pct"`
	BoundPct    float64        `json:"bound_pct"`
	Figure      Figure         `json:"figure"`
	Source      catalog.Source `json:"source"`

	x span // metres past the crest
}

// Figure is the grade that a sign would show: the exact value, the whole per
// cent shown, and the whole per cents that its bound allows.
type Figure struct {
	Pct      float64 `json:"exact_pct"`
	ErrPct   float64 `json:"err_pct"`
	ShownPct float64 `json:"shown_pct"`
	LowPct   float64 `json:"low_pct"`
	HighPct  float64 `json:"high_pct"`
	AtM      float64 `json:"at_m"` // station where its window starts
}

// judged is one row's result at one place.
type judged struct {
	at                    span
	row                   Row
	gotPct, margin, bound float64
	verdict               Verdict
}

// rows expands a warrant's rows by what was chosen for grades between and above them.
func rows(w Warrant, chosen map[string]string) []Row {
	out := append([]Row(nil), w.Rows...)
	switch chosen["between-rows"] {
	case "nearest":
		for i, r := range out {
			out[i].GradePct = r.GradePct - 0.5
			if r.Over { // over 12 after rounding is 13 and more: 12.5 before it
				out[i].GradePct, out[i].Over = r.GradePct+0.5, false
			}
		}
	case "interpolate":
		out = nil
		for i, r := range w.Rows {
			out = append(out, r)
			if i+1 == len(w.Rows) {
				break
			}
			next := w.Rows[i+1]
			for k := 1; k < 10; k++ {
				f := float64(k) / 10
				out = append(out, Row{r.GradePct + f*(next.GradePct-r.GradePct), r.Over, r.LongerThanM + f*(next.LongerThanM-r.LongerThanM)})
			}
		}
	}
	if last := w.Rows[len(w.Rows)-1]; chosen["above-last"] == "any-length" && last.LongerThanM > 0 {
		out = append(out, Row{GradePct: last.GradePct + 1, Over: last.Over})
	}
	return out
}

// decide compares a margin with its bound.
func decide(margin, bound float64, over bool) Verdict {
	const eps = 1e-7
	tie := -eps // a grade that is met counts
	if over {
		tie = eps
	}
	switch {
	case margin-bound > tie:
		return Warranted
	case margin+bound <= tie:
		return NotWarranted
	}
	return CantTell
}

// judge measures one row over one piece: every stretch that could meet it, or
// the nearest miss.
func (t *travel) judge(piece span, row Row, shortestM float64) []judged {
	over := shortestM
	if row.LongerThanM > 0 {
		over = row.LongerThanM + 0.001 // longer than, so a tie in length is not enough
	}
	possible := row.GradePct - t.bound.MeanErrPct(over, 0)
	segs := t.above(piece, possible, 1)
	if len(segs) == 0 || math.IsInf(possible, 0) {
		segs = []span{piece}
	}
	var out []judged
	for _, s := range segs {
		at, got := t.window(piece, s, over)
		bound := t.errPct(at.fromM, at.toM)
		j := judged{at: s, row: row, gotPct: got, margin: got - row.GradePct, bound: bound}
		j.verdict = decide(j.margin, bound, row.Over)
		if j.verdict == Warranted {
			j.at = t.widest(piece, at, row.GradePct)
		}
		out = append(out, j)
	}
	return append(out, t.within(piece, row, over)...)
}

// within lists the stretches of windows that could meet a row only by more than the
// usual bound: where smoothing may have eased a steep part, or no ground is under it.
func (t *travel) within(piece span, row Row, overM float64) []judged {
	usual := t.bound.MeanErrPct(overM, 0)
	var out []judged
	for x := piece.fromM; overM > 0 && x+overM <= piece.toM; x += t.stepM {
		w := span{x, x + overM}
		margin := t.downPct(w.fromM, w.toM) - row.GradePct
		if margin+2*usual+math.Abs(t.p.EasePct(t.stationM(w.fromM), t.stationM(w.toM))) < 0 {
			continue // what rests on no ground doubles the bound at most
		}
		bound := t.errPct(w.fromM, w.toM)
		j := judged{at: w, row: row, gotPct: margin + row.GradePct, margin: margin, bound: bound, verdict: decide(margin, bound, row.Over)}
		if margin >= -usual || j.verdict != CantTell {
			continue
		}
		if n := len(out); n > 0 && w.fromM <= out[n-1].at.toM {
			j.at.fromM = out[n-1].at.fromM
			if margin+bound < out[n-1].margin+out[n-1].bound {
				out[n-1].at.toM = w.toM
				continue
			}
			out = out[:n-1]
		}
		out = append(out, j)
	}
	return out
}

// window finds the steepest window of lengthM that touches s inside piece. A
// piece shorter than that is taken as level beyond its ends.
func (t *travel) window(piece, s span, lengthM float64) (span, float64) {
	if piece.lengthM() < lengthM {
		drop := t.downPct(piece.fromM, piece.toM) * piece.lengthM()
		return piece, drop / lengthM
	}
	search := s
	if s.lengthM() < lengthM {
		search = span{math.Max(piece.fromM, s.toM-lengthM), math.Min(piece.toM, s.fromM+lengthM)}
		if short := lengthM - search.lengthM(); short > 0 {
			search.fromM = math.Max(piece.fromM, search.fromM-short)
			search.toM = math.Min(piece.toM, search.fromM+lengthM)
		}
	}
	a, got := t.steepest(search.fromM, search.toM, lengthM)
	return span{a, math.Min(a+lengthM, piece.toM)}, got
}

// widest is the complete stretch around a window that meets the row's grade.
func (t *travel) widest(piece, at span, gradePct float64) span {
	best, most := at, 0.0
	for _, s := range t.above(piece, gradePct, 1) {
		if o := math.Min(s.toM, at.toM) - math.Max(s.fromM, at.fromM); o > most {
			best, most = span{math.Min(s.fromM, at.fromM), math.Max(s.toM, at.toM)}, o
		}
	}
	return best
}

// stretches judges the descent by one warrant: its warranted stretches, then the undecided ones, in
// travel order, or only the nearest miss.
func (t *travel) stretches(rs *RuleSet, w Warrant, chosen map[string]string) []Judgement {
	pieces, _ := t.pieces(chosen["bench"] == "split", rs.Bench)
	if len(pieces) == 0 {
		pieces = []span{{0, t.lenM}}
	}
	var all []judged
	for _, piece := range pieces {
		all = append(all, t.judgeRows(piece, w, chosen)...)
	}
	var out []Judgement
	for _, v := range []Verdict{Warranted, CantTell} {
		groups := groupBy(all, v)
		if v == Warranted && chosen["bench"] != "split" && !w.InPart {
			groups = t.bridge(groups, rows(w, chosen))
		}
		for _, g := range groups {
			if v == Warranted || !overlaps(out, g.at) {
				out = append(out, t.stretch(rs, w, chosen, g))
			}
		}
	}
	if len(out) == 0 {
		best := all[0]
		for _, j := range all[1:] {
			if j.margin > best.margin {
				best = j
			}
		}
		out = append(out, t.stretch(rs, w, chosen, best))
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].x.fromM < out[j].x.fromM })
	return out
}

// judgeRows judges one piece of the descent by every row of a warrant.
func (t *travel) judgeRows(piece span, w Warrant, chosen map[string]string) []judged {
	var out []judged
	for _, row := range rows(w, chosen) {
		if !w.InPart {
			out = append(out, t.judge(piece, row, w.ShortestM)...)
			continue
		}
		for _, j := range t.judge(piece, Row{GradePct: row.GradePct, Over: row.Over}, w.ShortestM) {
			j.row = row
			out = append(out, t.hillLongEnough(j, chosen["hill-length"]))
		}
	}
	return out
}

// hillLongEnough lowers a verdict where the hill is not long enough, or not surely.
func (t *travel) hillLongEnough(j judged, by string) judged {
	lengthM, errM := t.lenM, t.endsErrM
	if by == "stretch" {
		lengthM = j.at.lengthM()
	}
	switch {
	case lengthM+errM <= j.row.LongerThanM:
		j.verdict = NotWarranted
	case lengthM-errM <= j.row.LongerThanM && j.verdict == Warranted:
		j.verdict = CantTell
	}
	return j
}

func (t *travel) stretch(rs *RuleSet, w Warrant, chosen map[string]string, j judged) Judgement {
	s := Judgement{Warrant: w.ID, Words: w.Words, Verdict: j.verdict, FromM: t.stationM(j.at.fromM), ToM: t.stationM(j.at.toM),
		LengthM: j.at.lengthM(), MeanPct: t.downPct(j.at.fromM, j.at.toM), MeanErrPct: t.errPct(j.at.fromM, j.at.toM),
		Row: rowWords(rs.Units, j.row), MeasuredPct: j.gotPct, MarginPct: j.margin, BoundPct: j.bound, Source: rs.source(w.Source), x: j.at}
	s.Figure = t.figure(rs, j.at, chosen["figure"])
	return s
}

// figure is the grade to show for a stretch.
func (t *travel) figure(rs *RuleSet, at span, by string) Figure {
	window := at.lengthM()
	switch by {
	case "steepest-100":
		window = 100
	case "steepest-500":
		window = 500
	}
	x, pct := t.steepest(at.fromM, at.toM, window)
	err := t.errPct(x, math.Min(x+window, at.toM))
	round := func(v float64) float64 { return math.Max(0, wholePct(rs.Rounding.Grade, v)) }
	return Figure{pct, err, round(pct), round(pct - err), round(pct + err), t.stationM(x)}
}

func (s Judgement) String() string {
	return fmt.Sprintf("%s: %s, %.2f ± %.2f %% against %s", s.Warrant, s.Verdict, s.MeasuredPct, s.BoundPct, s.Row)
}
