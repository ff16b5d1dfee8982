package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// completions are scripts that ask the program itself what may follow.
var completions = map[string]string{
	"bash": `_quietcross() {
	local cur=${COMP_WORDS[COMP_CWORD]} words=("${COMP_WORDS[@]:0:COMP_CWORD}")
	[[ $cur == -* ]] && words+=("$cur")
	COMPREPLY=($(compgen -W "$("${words[@]}" --generate-bash-completion 2>/dev/null)" -- "$cur"))
}
complete -o default -F _quietcross quietcross
`,
	"zsh": `#compdef quietcross
_quietcross() {
	local -a words_before
	words_before=("${(@)words[1,CURRENT-1]}")
	[[ $words[CURRENT] == -* ]] && words_before+=("$words[CURRENT]")
	compadd -- ${(f)"$("${words_before[@]}" --generate-bash-completion 2>/dev/null)"}
	_files
}
compdef _quietcross quietcross
`,
}

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "print a script that completes command lines",
		ArgsUsage: "bash|zsh",
		Description: `   source <(quietcross completion bash)
   source <(quietcross completion zsh)`,
		OnUsageError: onUsageError,
		Action: func(c *cli.Context) error {
			script, ok := completions[c.Args().First()]
			if c.NArg() != 1 || !ok {
				return usagef(c, "completion takes the name of a shell: %s", strings.Join(slices.Sorted(maps.Keys(completions)), " or "))
			}
			_, err := fmt.Fprint(c.App.Writer, script)
			return err
		},
	}
}
