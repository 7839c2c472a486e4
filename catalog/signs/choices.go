package signs

import (
	"fmt"
	"strings"

	"gradeline/terrain"
)

// ParseChoices reads a list of "NAME=OPTION", the answers to what an edition leaves open. Of two for one
// name the last counts. Error: terrain.ErrInput.
func ParseChoices(list []string) (map[string]string, error) {
	out := map[string]string{}
	for _, text := range list {
		name, option, ok := strings.Cut(text, "=")
		if !ok {
			return nil, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q: write NAME=OPTION", text)}
		}
		out[name] = option
	}
	return out, nil
}
