//go:build js && wasm

// Command wasm is package whatif in a browser. It sets two global functions: gradelineWhatIf takes a
// question and returns an answer, both JSON; gradelineHill takes the grade line of a descent, in
// JSON, for the questions after it, and returns what is wrong with it or an empty text.
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
	asker := whatif.NewAsker(classes, nil)
	js.Global().Set("gradelineHill", js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) != 1 {
			return "one grade line at a time"
		}
		line, err := whatif.ParseGradeLine([]byte(args[0].String()))
		if err != nil {
			return err.Error()
		}
		asker = whatif.NewAsker(classes, line)
		return ""
	}))
	js.Global().Set("gradelineWhatIf", js.FuncOf(func(_ js.Value, args []js.Value) any {
		if len(args) != 1 {
			return `{"error":"one question at a time"}`
		}
		return string(asker.AskJSON([]byte(args[0].String())))
	}))
	select {}
}
