package overlay

import (
	"gradeline/catalog/specimen"
)

var (
	write = specimen.Written
	says  = specimen.Says
	keep  = specimen.Kept
)

func ptr[T any](v T) *T { return &v }
