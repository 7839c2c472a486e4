package cmemory_test

import (
	"fmt"

	"gradeline/terrain/cmemory"
)

func ExampleLeftover() {
	fmt.Println(cmemory.Leftover(24), "bytes left over")
	// Output: 0 bytes left over
}
