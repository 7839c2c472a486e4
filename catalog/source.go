package catalog

// Source is the origin of a figure or a rule, with a status: how far the source itself was seen.
type Source struct {
	Key      string `json:"-"` // the id that rules use
	Document string `json:"document"`
	Section  string `json:"section"`
	Edition  string `json:"edition"`
	Status   string `json:"status"` // "published", "second-hand", "from memory", …
	Note     string `json:"note"`
}
