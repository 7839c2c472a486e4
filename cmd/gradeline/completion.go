package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
)

// fixedValues are the values of flags that accept one of a few words.
var fixedValues = map[string][]string{
	"units": {"us", "metric"}, "paper": {"letter", "a4"}, "vertical-unit": {"m", "ft", "us-ft"},
	"state": stateNames(),
}

func stateNames() (out []string) {
	for _, s := range catalog.ReviewStates() {
		out = append(out, string(s))
	}
	return out
}

// firstWords are the possible first arguments of a command.
var firstWords = map[string][]string{
	"classes": {"list", "check", "template"}, "sites": {"list", "import", "remove"}, "drives": {"import", "list", "forget"},
	"completion": commandline.Shells(), "overlay": answer.OverlayKinds(),
}

// completionValues suggests classes, descents and routes from the files that the line names.
type completionValues struct{ c *cli.Context }

func (v completionValues) OfFlag(l commandline.Line, flag string) []string {
	switch flag {
	case "class", "not-held-by":
		return v.classes(l.Given["classes"])
	case "rules":
		return ruleSets()
	case "route":
		return v.routes(l.Given["catalog"])
	}
	return fixedValues[flag]
}

func (v completionValues) OfArgument(l commandline.Line) []string {
	usage := l.Command.ArgsUsage
	_, isAll := l.Given["all"]
	takesFile, takesMany := strings.Contains(usage, "RECORDING"), strings.Contains(usage, "...")
	switch words := firstWords[l.Command.Name]; {
	case words != nil && l.Arguments == 0:
		return words
	case words != nil:
		return nil
	case l.Command.Name == "compare" && l.Given["terrain"] == "":
		return v.routes(l.Given["catalog"])
	case !strings.Contains(usage, "DESCENT"):
		return nil
	case isAll, takesFile && l.Arguments > 1, !takesFile && !takesMany && l.Arguments > 0:
		return commandline.Nothing
	case takesFile && l.Arguments == 1:
		return nil
	}
	return v.descents(l.Given["catalog"])
}

func (v completionValues) classes(file string) []string {
	if file != "" { // else GRADELINE_CLASSES may name one
		if err := v.c.Set("classes", file); err != nil {
			return nil
		}
	}
	classes, err := loadClasses(v.c)
	if err != nil {
		return nil
	}
	var ids []string
	for _, k := range classes {
		ids = append(ids, k.ID)
	}
	return ids
}

func ruleSets() []string {
	sets, err := signs.RuleSets()
	if err != nil {
		return nil
	}
	var out []string
	for _, r := range sets {
		out = append(out, r.ID)
	}
	return out
}

const mostOffered = 500 // a longer list does not help on a screen

func (v completionValues) descents(path string) []string {
	var out []string
	v.withCatalog(path, func(cat *store.Catalog) error {
		es, err := cat.Descents(v.c.Context, store.Filter{NoHolds: true, Limit: mostOffered})
		for i := range es {
			out = append(out, es[i].Descent.ID)
		}
		return err
	})
	return out
}

func (v completionValues) routes(path string) []string {
	var out []string
	v.withCatalog(path, func(cat *store.Catalog) error {
		rs, err := cat.Routes(v.c.Context)
		for _, r := range rs[:min(len(rs), mostOffered)] {
			out = append(out, r.ID)
		}
		return err
	})
	return out
}

// withCatalog opens the catalogue that the line names. One that cannot be read has no suggestions:
// a shell cannot show an error.
func (v completionValues) withCatalog(path string, read func(*store.Catalog) error) {
	if path == "" {
		path = v.c.String("catalog")
	}
	cat, err := store.Open(v.c.Context, path, store.Options{ReadOnly: true})
	if err != nil {
		return
	}
	defer cat.Close()
	_ = read(cat)
}
