package ranking

// PracticeDay is one day of a trainee's plan: the hardest grade of the previous day once more, then
// harder ones.
type PracticeDay struct {
	Day    int      `json:"day"`
	Repeat string   `json:"repeat"` // id; empty on the first day
	Rungs  []string `json:"rungs"`  // ids, easiest first
}

// PracticeDays divides a ladder into days, in its order and by equal shares of its difficulty, with
// at least one grade each day. A ladder with fewer grades than days gets fewer days. 0 days give
// none.
func PracticeDays(ladder []Rung, days int) []PracticeDay {
	out := []PracticeDay{}
	days = min(days, len(ladder))
	var total, done float64
	for i := range ladder {
		total += ladder[i].DifficultyScore
	}
	for i := range ladder {
		r := &ladder[i]
		remaining := len(ladder) - i
		begins := len(out) == 0 || // a new day begins where the share is complete, or where each remaining grade is needed for a day
			done+r.DifficultyScore/2 > total*float64(len(out))/float64(days) || remaining == days-len(out)
		if begins && len(out) < days {
			day := PracticeDay{Day: len(out) + 1, Rungs: []string{}}
			if i > 0 {
				day.Repeat = ladder[i-1].Descent
			}
			out = append(out, day)
		}
		if len(out) == 0 { // no plan of days
			return out
		}
		last := &out[len(out)-1]
		last.Rungs = append(last.Rungs, r.Descent)
		done += r.DifficultyScore
	}
	return out
}
