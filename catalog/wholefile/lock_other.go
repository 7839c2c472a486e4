//go:build !unix

package wholefile

import (
	"errors"
	"os"
)

func lockNow(*os.File) error { return errors.ErrUnsupported }

// lockAlone refuses: in a browser there are no files to lock.
func lockAlone(*os.File) error { return errors.ErrUnsupported }
