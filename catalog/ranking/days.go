package ranking

// PracticeDay is what a trainee drives on one day: the hardest grade of the day before
// once more, then harder ones.
type PracticeDay struct {
	Day    int      `json:"day"`
	Repeat string   `json:"repeat"` // id; empty on the first day
	Rungs  []string `json:"rungs"`  // ids, easiest first
}

// PracticeDays spreads a ladder over days, in its order and by equal shares of its
// difficulty, with at least one grade each day. A ladder shorter than the days asked for
// takes fewer. 0 days give none.
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
		begins := len(out) == 0 || // a day is begun where the share is done, or where each grade left is needed for one
			done+r.DifficultyScore/2 > total*float64(len(out))/float64(days) || remaining == days-len(out)
		if begins && len(out) < days {
			day := PracticeDay{Day: len(out) + 1, Rungs: []string{}}
			if i > 0 {
				day.Repeat = ladder[i-1].Descent
			}
			out = append(out, day)
		}
		if len(out) == 0 { // no days were asked for
			return out
		}
		last := &out[len(out)-1]
		last.Rungs = append(last.Rungs, r.Descent)
		done += r.DifficultyScore
	}
	return out
}
