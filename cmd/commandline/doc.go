// Package commandline adds functions to github.com/urfave/cli/v2 that the library lacks:
// flags before and after arguments, unknown flags refused with the nearest name, help and
// a manual page with worked examples, completion for bash and zsh.
//
// The input is a Program: the cli.App, its groups of commands, its examples and the sections of its
// manual. The output is ordered arguments, texts on a writer, and candidates for completion. The
// package does not depend on the program's subject, print to the terminal by itself, or exit.
//
// Errors are of type UsageError, one line each: the mistake and what to write instead.
// A command line is read in time proportional to its words; names are compared with an
// edit distance of at most two.
package commandline
