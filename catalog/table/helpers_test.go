package table

import (
	"gradeline/catalog/specimen"
)

var (
	write = specimen.Written
	keep  = specimen.Kept
	run   = specimen.Printed
)
