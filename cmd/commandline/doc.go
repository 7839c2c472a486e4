// Package commandline adds to github.com/urfave/cli/v2 what a program's users expect and
// the library lacks: flags before and after arguments, unknown flags refused with the
// nearest name, help and a manual page with worked examples, completion for bash and zsh.
//
// In goes a Program: the cli.App, its groups of commands, its examples and the sections of
// its manual. Out come the ordered arguments, texts on a writer, and candidates for
// completion. Nothing here knows what the program is about, prints to the terminal by
// itself, or exits.
//
// Errors are of type UsageError, one line each: what was wrong and what to write instead.
// A command line is read in time proportional to its words; names are compared with an
// edit distance of at most two.
package commandline
