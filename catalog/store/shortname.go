package store

// ShortName is the short name that a new route asks for in the ids of its descents.
// Of several routes that ask for one name, each but the first gets it with "-2",
// "-3", … behind.
func (r *Route) ShortName() string { return r.baseSlug() }
