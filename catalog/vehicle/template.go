package vehicle

import _ "embed"

//go:embed template.toml
var template string

// Template is a commented class file that parses, for a carrier to fill in.
func Template() string { return template }
