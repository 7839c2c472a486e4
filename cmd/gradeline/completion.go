package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
)

// Both shells ask the program itself what may follow, so that what they offer
// is what the command takes.
const bashCompletion = `# bash completion for gradeline: source <(gradeline completion bash)
_gradeline() {
	local word="${COMP_WORDS[COMP_CWORD]}" line found code
	COMPREPLY=()
	found=$(gradeline candidates --quoted -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
	code=$?
	(( code == 3 )) && compopt +o default 2>/dev/null
	while IFS= read -r line; do
		case "$line,$word" in
		,*) ;;
		*,[\"\']*) COMPREPLY+=("$line") ;;
		*) COMPREPLY+=("$(printf %q "$line")") ;;
		esac
	done <<< "$found"
}
complete -o default -F _gradeline gradeline
`

const zshCompletion = `#compdef gradeline
# zsh completion for gradeline: put it as _gradeline into a folder of fpath
_gradeline() {
	local -a found
	local text code
	text=$(gradeline candidates -- "${(@Q)words[2,CURRENT]}" 2>/dev/null)
	code=$?
	found=("${(@f)text}")
	found=(${found:#})
	if (( ${#found} )); then
		compadd -- "${found[@]}"
	elif (( code != 3 )); then
		_files
	fi
}
if [[ "${funcstack[1]}" == _gradeline ]]; then
	_gradeline "$@"
else
	compdef _gradeline gradeline
fi
`

func (s *session) completionCommand() *cli.Command {
	return &cli.Command{
		Name: "completion", Usage: "completion of commands, flags, descents and classes for bash or zsh",
		ArgsUsage: "bash | zsh",
		Action: func(c *cli.Context) error {
			if err := argCount(c, 1, 1, "one of: bash, zsh"); err != nil {
				return err
			}
			script, ok := map[string]string{"bash": bashCompletion, "zsh": zshCompletion}[c.Args().First()]
			if !ok {
				return usagef("completion has no %q%s; use bash or zsh", c.Args().First(), didYouMean(c.Args().First(), []string{"bash", "zsh"}))
			}
			_, err := fmt.Fprint(s.out, script)
			return err
		},
	}
}

// candidatesCommand answers the completion scripts: what may stand where the
// last word is being typed, one a line; nothing where a file name may, and exit
// code 3 where nothing at all may. With --quoted the words are as a shell's line
// has them, and only what the last one begins is answered.
func (s *session) candidatesCommand() *cli.Command {
	return &cli.Command{Name: "candidates", Hidden: true, Flags: []cli.Flag{catalogFlag(), classesFlag(), &cli.BoolFlag{Name: "quoted"}}, Action: func(c *cli.Context) error {
		words := c.Args().Slice()
		if c.Bool("quoted") {
			for i := range words {
				words[i] = unquotedWord(words[i])
			}
		}
		if n := len(words); n > 0 && words[n-1] == "=" { // bash splits --class=us in three
			words[n-1] = ""
		} else if n > 1 && words[n-2] == "=" {
			words = append(words[:n-2:n-2], words[n-1])
		}
		all := candidates(c, words)
		for _, w := range all {
			if !c.Bool("quoted") || strings.HasPrefix(w, words[len(words)-1]) {
				fmt.Fprintln(s.out, w)
			}
		}
		if all != nil && len(all) == 0 {
			return errGaps
		}
		return nil
	}}
}

// fixedValues are the values of flags that take one of a few words.
var fixedValues = map[string][]string{
	"units": {"us", "metric"}, "paper": {"letter", "a4"}, "vertical-unit": {"m", "ft", "us-ft"},
	"state": {string(catalog.Surveyed), string(catalog.FieldChecked), string(catalog.Approved), string(catalog.Retired)},
}

// firstWords are the words that a command's first argument is one of.
func firstWords(command string) []string {
	switch command {
	case "classes":
		return []string{"list", "check", "template"}
	case "sites":
		return []string{"list", "import", "remove"}
	case "completion":
		return []string{"bash", "zsh"}
	case "overlay":
		var names []string
		for _, k := range overlayKinds {
			names = append(names, k.name)
		}
		return names
	}
	return nil
}

// nothing is what may stand where not even a file name may.
var nothing = []string{}

// candidates are what may stand in place of the last word; nil where a file name may.
func candidates(c *cli.Context, words []string) []string {
	if len(words) <= 1 {
		if len(words) == 1 && strings.HasPrefix(words[0], "-") {
			return []string{"--help", "--version"}
		}
		return append(commandNames(c.App), "help")
	}
	if words[0] == "help" || words[0] == "--help" || words[0] == "-h" {
		if len(words) > 2 {
			return nothing
		}
		return commandNames(c.App)
	}
	cmd := c.App.Command(words[0])
	if cmd == nil {
		return nil
	}
	last, before := words[len(words)-1], words[len(words)-2]
	given := givenFlags(cmd, words[1:len(words)-1])
	if strings.HasPrefix(before, "-") && len(words) > 2 {
		if f := findFlag(cmd, strings.TrimLeft(before, "-")); f != nil && takesValue(f) {
			return valuesOf(c, f.Names()[0], given)
		}
	}
	if strings.HasPrefix(last, "-") {
		var out []string
		for _, d := range flagDocs(cmd.Flags) {
			if _, isGiven := given[d.name]; !isGiven || d.isRepeatable {
				out = append(out, strings.Fields(d.spelling())[0])
			}
		}
		return append(out, "--help")
	}
	if w := firstWords(words[0]); w != nil {
		if len(words) == 2 {
			return w
		}
		return nil
	}
	stood, isFile := standing(cmd, words[1:len(words)-1]), strings.Contains(cmd.ArgsUsage, "RECORDING")
	_, isAll := given["all"]
	if strings.Contains(cmd.ArgsUsage, "DESCENT") {
		switch {
		case isAll, stood > 0 && !isFile && !strings.Contains(cmd.ArgsUsage, "..."), stood > 1 && isFile:
			return nothing
		case stood == 1 && isFile:
			return nil
		}
		return descentIDs(c, given["catalog"])
	}
	if words[0] == "compare" && given["terrain"] == "" {
		return routeNames(c, given["catalog"])
	}
	return nil
}

func takesValue(f cli.Flag) bool {
	_, isSwitch := f.(*cli.BoolFlag)
	return !isSwitch
}

func valuesOf(c *cli.Context, flag string, given map[string]string) []string {
	switch flag {
	case "class", "not-held-by":
		if file := given["classes"]; file != "" { // else GRADELINE_CLASSES may name one
			if err := c.Set("classes", file); err != nil {
				return nil
			}
		}
		if ids := classIDs(c); len(ids) > 0 {
			return ids
		}
		return nil
	case "rules":
		var out []string
		sets, err := signs.RuleSets()
		if err != nil {
			return nil
		}
		for _, r := range sets {
			out = append(out, r.ID)
		}
		return out
	case "route":
		return routeNames(c, given["catalog"])
	}
	return fixedValues[flag]
}

func classIDs(c *cli.Context) []string {
	classes, err := loadClasses(c)
	if err != nil {
		return nil
	}
	var ids []string
	for _, k := range classes {
		ids = append(ids, k.ID)
	}
	return ids
}

// offered opens the catalogue that the line names, for what completion offers;
// nil where there is none.
func offered(c *cli.Context, path string) *store.Catalog {
	if path == "" {
		path = c.String("catalog")
	}
	cat, err := store.Open(c.Context, path, store.Options{ReadOnly: true})
	if err != nil {
		return nil
	}
	return cat
}

const mostOffered = 500 // more is no help on a screen

func descentIDs(c *cli.Context, path string) []string {
	cat := offered(c, path)
	if cat == nil {
		return nil
	}
	defer cat.Close()
	es, err := cat.Descents(c.Context, store.Filter{NoHolds: true, Limit: mostOffered})
	if err != nil {
		return nil
	}
	var out []string
	for i := range es {
		out = append(out, es[i].Descent.ID)
	}
	return out
}

func routeNames(c *cli.Context, path string) []string {
	cat := offered(c, path)
	if cat == nil {
		return nil
	}
	defer cat.Close()
	rs, err := cat.Routes(c.Context)
	if err != nil {
		return nil
	}
	var out []string
	for _, r := range rs[:min(len(rs), mostOffered)] {
		out = append(out, r.ID)
	}
	return out
}
