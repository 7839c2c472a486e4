package answer

import (
	"fmt"

	"gradeline/catalog/survey"
	"gradeline/routes/network"
)

// Network is the member "network" of a survey's answer.
type Network struct {
	WaysIn    int               `json:"ways_in"`
	RoutesOut int               `json:"routes_out"`
	IsJoined  bool              `json:"joined"`
	LeftOut   []network.LeftOut `json:"left_out"`
	Sources   []NetworkSource   `json:"sources"`
}

// NetworkSource is a file with the date of its data and the credit that its users must print.
type NetworkSource struct {
	File        string `json:"file"`
	AsOf        string `json:"as_of"` // RFC 3339; empty if unknown
	Attribution string `json:"attribution"`
}

func networkOf(job *survey.Job) Network {
	n := job.Network()
	return Network{WaysIn: n.WaysIn, RoutesOut: n.RoutesOut, IsJoined: n.Joined, LeftOut: notNil(n.LeftOut), Sources: sourcesOf(n)}
}

func sourcesOf(n *network.Summary) []NetworkSource {
	out := []NetworkSource{}
	for _, e := range n.Extracts {
		out = append(out, NetworkSource{e.File, e.AsOf, e.Licence})
	}
	return out
}

// NetworkText reports in words what was joined and left out; it is empty where no lines were joined.
func NetworkText(n *network.Summary) []string {
	if !n.Joined {
		return nil
	}
	out := []string{fmt.Sprintf("%d lines joined into %d routes; --as-drawn keeps lines apart", n.WaysIn, n.RoutesOut)}
	for _, l := range n.LeftOut {
		out = append(out, fmt.Sprintf("not surveyed on their own: %d %s, %.1f km", l.Count, l.What, l.LengthM/1000))
	}
	for _, e := range n.Extracts {
		asOf := "age unknown"
		if len(e.AsOf) >= 10 {
			asOf = "as of " + e.AsOf[:10]
		}
		out = append(out, fmt.Sprintf("%s: %s, %s", e.File, e.Licence, asOf))
	}
	return out
}
