package stationing

import (
	"fmt"
	"sort"

	"gradeline/routes"
)

// attribute fills in the route's attributes from the tags of the pieces. Piece k has
// the raw vertices first[k] to last[k].
func attribute(r *routes.Route, pieces []piece, c []step, first, last []int, m stationMap) (notes []string) {
	names, refs := map[string]float64{}, map[string]float64{}
	oneWay := map[int]float64{}
	for k, s := range c {
		p := pieces[s.piece]
		from, to := m.cleanM[first[k]], m.cleanM[last[k]]
		lenM := to - from
		names[p.Tags["name"]] += lenM
		refs[p.Tags["ref"]] += lenM
		if lenM > 0 || len(c) == 1 {
			oneWay[turned(parseOneWay(p.Tags["oneway"]), s.turned)] += lenM
		}
		more := structures(r, p, s.turned, m.rawM[first[k]], m.rawM[last[k]], m)
		notes = append(notes, more...)
		notes = append(notes, limits(r, p.Tags, s.turned, from, to)...)
		if v := p.Tags["incline"]; v != "" {
			if pct, sign, ok := parseIncline(v); ok {
				if s.turned {
					pct, sign = 0-pct, -sign
				}
				r.Incline = append(r.Incline, routes.Incline{FromM: from, ToM: to, GradePct: pct, Sign: sign})
			} else {
				notes = append(notes, fmt.Sprintf("incline %q not understood", v))
			}
		}
	}
	r.Name, r.Ref = longest(names), longest(refs)
	if len(oneWay) == 1 {
		r.OneWay = oneWay[0] == 0 && hasNo(oneWay, 0)
		if r.OneWay && !hasNo(oneWay, -1) {
			r.OneWayDir = routes.Backward
		}
	} else {
		notes = append(notes, "only parts of it are one-way, or in different directions: treated as open both ways")
	}
	var more []string
	r.Structures, more = joinStructures(r.Structures)
	notes = append(notes, more...)
	r.Limits = mergeLimits(r.Limits)
	r.Incline = mergeInclines(r.Incline)
	return distinct(notes)
}

func hasNo(m map[int]float64, k int) bool { _, ok := m[k]; return !ok }

func turned(sign int, against bool) int {
	if against {
		return -sign
	}
	return sign
}

// longest is the text that covers most of the route, without empty ones; of two the first by
// alphabet.
func longest(byText map[string]float64) string {
	var best string
	for v, l := range byText {
		if v == "" {
			continue
		}
		if best == "" || l > byText[best] || l == byText[best] && v < best {
			best = v
		}
	}
	return best
}

// structures adds the structures in a piece's tags and in its structures list.
func structures(r *routes.Route, p piece, isTurned bool, rawFrom, rawTo float64, m stationMap) (notes []string) {
	add := func(kind routes.StructureKind, from, to float64) {
		s := routes.Structure{Kind: kind, FromM: m.cleanFromRawM(from), ToM: m.cleanFromRawM(to), Flagged: true}
		if s.ToM > s.FromM {
			r.Structures = append(r.Structures, s)
		}
	}
	if kind, ok := structureOf(p.Tags); ok {
		add(kind, rawFrom, rawTo)
	}
	lenM := rawTo - rawFrom
	for _, s := range p.Structures {
		from, to := s.FromM, s.ToM
		if from >= lenM {
			notes = append(notes, fmt.Sprintf("%s from %.1f to %.1f m is beyond its end at %.1f m: not used", s.Kind, from, to, lenM))
			continue
		}
		if to > lenM+meetM {
			notes = append(notes, fmt.Sprintf("%s from %.1f to %.1f m extends beyond its end at %.1f m: cut there", s.Kind, from, to, lenM))
		}
		to = min(to, lenM)
		if isTurned {
			from, to = lenM-to, lenM-from
		}
		add(s.Kind, rawFrom+from, rawFrom+to)
	}
	return notes
}

// touchM is the largest gap between two stretches that still touch.
const touchM = 0.01

// joinStructures orders structures, joins those of a kind that touch, and gives a
// stretch claimed by two kinds to the one that begins first.
func joinStructures(in []routes.Structure) (out []routes.Structure, notes []string) {
	sort.SliceStable(in, func(i, j int) bool {
		if in[i].FromM != in[j].FromM {
			return in[i].FromM < in[j].FromM
		}
		return in[i].ToM > in[j].ToM
	})
	for _, s := range in {
		if n := len(out); n > 0 {
			prev := &out[n-1]
			if s.FromM <= prev.ToM+touchM && s.Kind == prev.Kind {
				prev.ToM = max(prev.ToM, s.ToM)
				continue
			}
			if s.FromM < prev.ToM {
				if s.FromM < prev.ToM-touchM {
					notes = append(notes, fmt.Sprintf("a %s and a %s overlap at station %.0f m", prev.Kind, s.Kind, s.FromM))
				}
				if s.FromM = prev.ToM; s.ToM <= s.FromM {
					continue
				}
			}
		}
		out = append(out, s)
	}
	return out, notes
}

// limits adds the speed limits of a piece: a limit for one direction replaces, there, one for both.
func limits(r *routes.Route, tags map[string]string, isTurned bool, from, to float64) (notes []string) {
	for _, key := range []string{"maxspeed", "maxspeed:hgv"} {
		var speed [2]float64 // forward and backward along the piece
		for _, suffix := range []string{"", ":forward", ":backward"} {
			text := tags[key+suffix]
			v, ok, known := parseSpeed(text)
			if !known {
				notes = append(notes, fmt.Sprintf("%s %q not understood: not used as a limit", key+suffix, text))
			}
			if !ok {
				continue
			}
			if suffix != ":backward" {
				speed[0] = v
			}
			if suffix != ":forward" {
				speed[1] = v
			}
		}
		if isTurned {
			speed[0], speed[1] = speed[1], speed[0]
		}
		l := routes.SpeedLimit{FromM: from, ToM: to, TruckOnly: key == "maxspeed:hgv"}
		switch {
		case to <= from:
		case speed[0] > 0 && speed[0] == speed[1]:
			l.SpeedMPS, l.Forward, l.Backward = speed[0], true, true
			r.Limits = append(r.Limits, l)
		default:
			for dir, v := range speed {
				if v > 0 {
					l.SpeedMPS, l.Forward, l.Backward = v, dir == 0, dir == 1
					r.Limits = append(r.Limits, l)
				}
			}
		}
	}
	return notes
}

// mergeLimits joins equal limits of stretches that touch.
func mergeLimits(in []routes.SpeedLimit) []routes.SpeedLimit {
	var out []routes.SpeedLimit
	type kind struct {
		speedMPS           float64
		fwd, bwd, truckOly bool
	}
	open := map[kind]int{}
	for _, l := range in {
		k := kind{l.SpeedMPS, l.Forward, l.Backward, l.TruckOnly}
		if i, ok := open[k]; ok && l.FromM <= out[i].ToM+touchM {
			out[i].ToM = l.ToM
			continue
		}
		open[k] = len(out)
		out = append(out, l)
	}
	return out
}

// mergeInclines joins equal claims of stretches that touch.
func mergeInclines(in []routes.Incline) []routes.Incline {
	var out []routes.Incline
	for _, c := range in {
		if n := len(out); n > 0 {
			p := &out[n-1]
			same := p.GradePct == c.GradePct || p.GradePct != p.GradePct && c.GradePct != c.GradePct
			if same && p.Sign == c.Sign && c.FromM <= p.ToM+touchM {
				p.ToM = c.ToM
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

// distinct drops repeated notes.
func distinct(in []string) (out []string) {
	seen := map[string]bool{}
	for _, s := range in {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}
