package commandline

import "strings"

// Both shells ask the program itself for candidates, through its hidden command "candidates", so
// that they offer exactly what the command accepts. PROGRAM becomes its name.
var completionScripts = map[string]string{"bash": `# bash completion for PROGRAM: source <(PROGRAM completion bash)
_PROGRAM() {
	local word="${COMP_WORDS[COMP_CWORD]}" line found code
	COMPREPLY=()
	found=$(PROGRAM candidates --quoted -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
	code=$?
	(( code == 3 )) && compopt +o default 2>/dev/null
	while IFS= read -r line; do
		case "$line,$word" in
		,*) ;;
		*,[\"\']*) COMPREPLY+=("$line") ;;
		*) COMPREPLY+=("$(printf %q "$line")") ;;
		esac
	done <<< "$found"
}
complete -o default -F _PROGRAM PROGRAM
`, "zsh": `#compdef PROGRAM
# zsh completion for PROGRAM: put it as _PROGRAM into a folder of fpath
_PROGRAM() {
	local -a found
	local text code
	text=$(PROGRAM candidates -- "${(@Q)words[2,CURRENT]}" 2>/dev/null)
	code=$?
	found=("${(@f)text}")
	found=(${found:#})
	if (( ${#found} )); then
		compadd -- "${found[@]}"
	elif (( code != 3 )); then
		_files
	fi
}
if [[ "${funcstack[1]}" == _PROGRAM ]]; then
	_PROGRAM "$@"
else
	compdef _PROGRAM PROGRAM
fi
`}

// Shells are the shells of CompletionScript.
func Shells() []string { return []string{"bash", "zsh"} }

// CompletionScript is the script for a shell of that name. The program must have a hidden command
// "candidates" that calls WriteCandidates and ends with exit code 3 on ErrNothingFits.
func (p *Program) CompletionScript(shell string) (string, error) {
	script, ok := completionScripts[shell]
	if !ok {
		return "", Usagef("completion has no %q%s; use %s", shell, DidYouMean(shell, Shells()), strings.Join(Shells(), " or "))
	}
	return strings.ReplaceAll(script, "PROGRAM", p.App.Name), nil
}
