//go:build !linux

package wholefile

import (
	"errors"
	"os"
)

func createUnnamed(string) (*os.File, bool) { return nil, false }

func nameUnnamed(*os.File, string) error { return errors.ErrUnsupported }
