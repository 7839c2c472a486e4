package shared

import "gradeline/catalog/gpkg"

// errWrite is the kind of fault for a database or a local copy that cannot be written.
var errWrite = gpkg.ErrWrite
