package commandline

import (
	"fmt"

	"github.com/urfave/cli/v2"
)

// Program is an application with its help, manual and completion.
type Program struct {
	App         *cli.App
	Groups      []Group              // the commands by purpose
	Examples    map[string][]Example // by command
	ExampleNote string               // the line above a command's examples in its help
	HelpFoot    string               // the last lines of the program's help
	Description []string             // paragraphs of the manual
	Sections    []Section            // the manual's last sections

	// Unknown explains a first word that names no command; nil leaves that to the App's own action.
	Unknown func(word string) error
}

// Group is a heading of the help with its commands.
type Group struct {
	Title    string
	Commands []string
}

// Example is a worked command line and what it is for.
type Example struct{ What, Line string }

// Section is a part of the manual: terms with their meaning, then paragraphs.
type Section struct {
	Title string
	Terms []Term
	Text  []string
}

// Term is a word and what it means.
type Term struct{ Name, What string }

// UsageError is wrong use of the command line.
type UsageError string

func (e UsageError) Error() string { return string(e) }

// Usagef makes a UsageError.
func Usagef(format string, a ...any) error { return UsageError(fmt.Sprintf(format, a...)) }

// Commands are the names of the commands that are not hidden, in the App's order.
func (p *Program) Commands() []string {
	var names []string
	for _, c := range p.App.Commands {
		if !c.Hidden {
			names = append(names, c.Name)
		}
	}
	return names
}

// unknown is the error for a first word that names no command.
func (p *Program) unknown(word string) error {
	if p.Unknown != nil {
		return p.Unknown(word)
	}
	return Usagef("%q is not a command%s; %s --help lists them", word, DidYouMean(word, p.Commands()), p.App.Name)
}
