package wholefile_test

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"gradeline/catalog/wholefile"
)

// A writer that fails leaves no file behind.
func ExampleWriteFile() {
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	err = wholefile.WriteFile(filepath.Join(dir, "hills.csv"), false, func(w io.Writer) error {
		fmt.Fprintln(w, "half of it")
		return errors.New("the rest is missing")
	})
	left, _ := os.ReadDir(dir) // the folder was made above
	fmt.Println(err, len(left))
	// Output: the rest is missing 0
}
