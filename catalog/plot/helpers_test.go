package plot

import (
	"gradeline/catalog/specimen"
)

var (
	write = specimen.Written
	says  = specimen.Says
	keep  = specimen.Kept
	run   = specimen.Printed
)
