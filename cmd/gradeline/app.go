package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"syscall"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/wording"
	"gradeline/cmd/commandline"
	"gradeline/terrain"
)

// Exit codes that scripts rely on.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitGaps        = 3
	exitInterrupted = 130
)

// version is set by the build; see the Makefile.
var version = "dev"

// session is the surroundings of a command, so that tests can run one in-process.
type session struct {
	program  string // the program's name as it was called
	in       io.Reader
	out, err io.Writer
	stored   string // the catalogue in which the command's change is stored, once it is
}

// errGaps ends a command that is done but whose answer has parts missing.
var errGaps = errors.New("done, with gaps")

// usageError is wrong use of the command line: exit code 2.
type usageError = commandline.UsageError

func usagef(format string, a ...any) error { return commandline.Usagef(format, a...) }

// run is main without the process: arguments and streams in, exit code out.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) int {
	checked, isChecked := out.(*checkedOut) // the demo runs commands in a command
	if !isChecked {
		checked = &checkedOut{w: out}
	}
	s := &session{program: "gradeline", in: in, out: checked, err: errOut}
	if len(args) > 0 {
		s.program = args[0]
	}
	p := newProgram(s)
	cmd, asked, err := p.HelpAsked(args)
	if asked {
		if err == nil {
			err = p.WriteHelp(s.out, cmd)
		}
		return s.finish(ctx, err, checked.err)
	}
	ordered, err := p.OrderArgs(args)
	if err == nil {
		err = p.App.RunContext(ctx, ordered)
	}
	return s.finish(ctx, err, checked.err)
}

// finish prints an error in one line and returns its exit code. outErr is the error of writing to
// standard output; a reader who has closed the pipe gets no message.
func (s *session) finish(ctx context.Context, err, outErr error) int {
	var usage usageError
	var unknown *answer.UnknownError
	switch {
	case errors.Is(outErr, syscall.EPIPE):
		return exitFailed
	case outErr != nil:
		fmt.Fprintf(s.err, "gradeline: the answer cannot be written: %s%s\n", wording.WithoutMiddle(wording.OneLine(outErr.Error())), s.storedWords())
		return exitFailed
	case err == nil:
		return exitDone
	case errors.Is(err, errGaps):
		return exitGaps
	case ctx.Err() != nil:
		fmt.Fprintln(s.err, "gradeline: interrupted; finished work is kept")
		return exitInterrupted
	case errors.As(err, &unknown):
		err = usagef("%v%s", unknown, commandline.DidYouMean(unknown.Name, unknown.Known))
		fallthrough
	case errors.As(err, &usage), errors.Is(err, catalog.ErrQuantity), errors.Is(err, terrain.ErrUnit): // a flag sets the unit
		s.sayError(err)
		return exitUsage
	}
	s.sayError(err)
	return exitFailed
}

// storedWords says that only the answer is lost, where the change is stored.
func (s *session) storedWords() string {
	if s.stored == "" {
		return ""
	}
	return fmt.Sprintf("; the change itself is stored in %s: don't make it again", s.stored)
}

func newApp(s *session) *cli.App {
	return &cli.App{
		Name:    "gradeline",
		Usage:   "finds long downgrades and says which gear and speed each truck holds on its retarder",
		Version: version,
		Reader:  s.in, Writer: s.out, ErrWriter: s.err,
		HideHelpCommand:           true,
		DisableSliceFlagSeparator: true,
		ExitErrHandler:            func(*cli.Context, error) {}, // finish sets the exit codes
		Commands: []*cli.Command{
			s.surveyCommand(), s.listCommand(), s.showCommand(), s.holdCommand(),
			s.overlayCommand(), s.sheetCommand(), s.reviewCommand(), s.compareCommand(), s.routeCommand(), s.practiceCommand(), s.debriefCommand(), s.progressCommand(), s.lessonCommand(), s.reportCommand(),
			s.signsCommand(), s.sitesCommand(), s.drivesCommand(), s.rampsCommand(), s.mergeCommand(), s.classesCommand(), s.demoCommand(), s.doctorCommand(), s.serveCommand(), s.workCommand(),
		},
	}
}
