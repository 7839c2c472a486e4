// Package data holds the embedded files. It parses nothing; each file's origin is a line in
// PROVENANCE.md in the same folder.
package data

import "embed"

// Files are the embedded data files, by path below this folder.
//
//go:embed all:classes all:signs all:demo notices.txt PROVENANCE.md
var Files embed.FS

// Classes are the embedded class files alone, for a program in a browser that needs no more.
//
//go:embed all:classes
var Classes embed.FS
