//go:build js && wasm

// Command wasm is package whatif in a browser: it sets the global function
// gradelineWhatIf, which takes a question and returns an answer, both JSON.
package main

import (
	"syscall/js"

	"gradeline/catalog/holding"
	"gradeline/catalog/whatif"
)

func main() {
	classes, err := holding.DefaultClasses()
	if err != nil {
		js.Global().Set("gradelineFault", err.Error())
		return
	}
	js.Global().Set("gradelineWhatIf", js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) != 1 {
			return `{"error":"one question at a time"}`
		}
		return string(whatif.AskJSON([]byte(args[0].String()), classes))
	}))
	select {}
}
