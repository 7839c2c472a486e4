package signs

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Quantity is how many signs and plaques of one designation a schedule asks for.
type Quantity struct {
	Designation string `json:"designation"`
	Name        string `json:"sign"`
	IsPlaque    bool   `json:"plaque"`
	Count       int    `json:"count"`    // due
	InDoubt     int    `json:"in_doubt"` // whose criterion the terrain can't tell
	AsAdvice    int    `json:"advice"`   // advice to an engineer
	NoPlace     int    `json:"no_place"` // of all these, those whose place is not known
}

// Quantities adds up the signs and plaques of schedules by designation; a sign on both
// sides counts twice. Counts are of posts to be decided on, not of an order.
func Quantities(schedules []Schedule) []Quantity {
	byKey := map[string]*Quantity{}
	add := func(p *Placement, designation, name string, isPlaque bool) {
		key := fmt.Sprint(isPlaque, designation)
		q := byKey[key]
		if q == nil {
			q = &Quantity{Designation: designation, Name: name, IsPlaque: isPlaque}
			byKey[key] = q
		}
		n := 1
		if p.Side == "both" {
			n = 2
		}
		switch p.Need {
		case NeedCantTell:
			q.InDoubt += n
		case NeedAdvice:
			q.AsAdvice += n
		default:
			q.Count += n
		}
		if !p.OnLine {
			q.NoPlace += n
		}
	}
	for i := range schedules {
		for j := range schedules[i].Placements {
			p := &schedules[i].Placements[j]
			name, _, _ := strings.Cut(p.Name, ",")
			add(p, p.Designation, name, false)
			for _, plaque := range p.Plaques {
				add(p, plaque, "plaque", true)
			}
		}
	}
	out := []Quantity{}
	for _, q := range byKey {
		out = append(out, *q)
	}
	slices.SortFunc(out, func(a, b Quantity) int {
		return cmp.Or(strings.Compare(fmt.Sprint(a.IsPlaque), fmt.Sprint(b.IsPlaque)), strings.Compare(a.Designation, b.Designation))
	})
	return out
}

// QuantityTable gives quantities as rows.
func QuantityTable(list []Quantity) (header []string, rows [][]string) {
	header = []string{"designation", "sign", "due", "in_doubt", "advice", "place_not_known"}
	for _, q := range list {
		rows = append(rows, []string{q.Designation, q.Name, fmt.Sprint(q.Count), fmt.Sprint(q.InDoubt), fmt.Sprint(q.AsAdvice), fmt.Sprint(q.NoPlace)})
	}
	return header, rows
}
