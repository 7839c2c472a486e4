package wording

import (
	"gradeline/catalog"
)

// Both is a text in both unit systems.
type Both struct{ Metric, US string }

// In returns the text in one system.
func (b Both) In(u catalog.Units) string {
	if u == catalog.US {
		return b.US
	}
	return b.Metric
}

// InBoth makes a text in both unit systems.
func InBoth(of func(u catalog.Units) string) Both { return Both{of(catalog.Metric), of(catalog.US)} }

// AsIs is a text without units.
func AsIs(s string) Both { return Both{s, s} }
