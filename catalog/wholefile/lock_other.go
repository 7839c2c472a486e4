//go:build !unix

package wholefile

import (
	"errors"
	"os"
)

// lockAlone refuses: in a browser there are no files to lock.
func lockAlone(*os.File) error { return errors.ErrUnsupported }
