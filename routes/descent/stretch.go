package descent

import (
	"math"

	"gradeline/routes"
)

// Measure describes a stretch of a grade line as a descent, whatever its length and mean. It is
// not ok where a height between the stations is not known.
func Measure(p *routes.Profile, dir routes.Direction, startM, endM float64, o Options) (routes.Descent, bool) {
	o = o.WithDefaults()
	for _, t := range tracks(p, dir) {
		s := span{t.indexAt(startM), t.indexAt(endM)}
		if s.from >= 0 && s.to < len(t.heightM) && s.from < s.to {
			return t.measure(s, o, o.CorePct()), true
		}
	}
	return routes.Descent{}, false
}

// indexAt is the travel index nearest to a station.
func (t *track) indexAt(stationM float64) int {
	m := stationM - t.firstM
	if t.dir == routes.Backward {
		m = -m
	}
	return int(math.Round(m / t.stepM))
}
