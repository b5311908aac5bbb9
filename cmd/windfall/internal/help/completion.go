package help

import (
	"fmt"
	"strings"
)

// Command is a command to be completed: what it does, and its flags without
// dashes.
type Command struct {
	Name, Usage string
	Flags       []string
}

// Completion is what a shell needs to complete commands, flags and files; ok is
// false for a shell that is not known.
func Completion(commands []Command, shell string) (text string, ok bool) {
	var names []string
	var cases, fish strings.Builder
	for _, c := range commands {
		names = append(names, c.Name)
		fmt.Fprintf(&fish, "complete -c windfall -n __fish_use_subcommand -a %s -d '%s'\n", c.Name,
			strings.ReplaceAll(c.Usage, "'", ""))
		var flags []string
		for _, n := range c.Flags {
			if len(n) == 1 {
				flags = append(flags, "-"+n)
				fmt.Fprintf(&fish, "complete -c windfall -n '__fish_seen_subcommand_from %s' -s %s\n", c.Name, n)
				continue
			}
			flags = append(flags, "--"+n)
			fmt.Fprintf(&fish, "complete -c windfall -n '__fish_seen_subcommand_from %s' -l %s\n", c.Name, n)
		}
		fmt.Fprintf(&cases, "    %s) words=\"%s\" ;;\n", c.Name, strings.Join(flags, " "))
	}
	bash := fmt.Sprintf(`_windfall() {
  local words="" cur="${COMP_WORDS[COMP_CWORD]}"
  if [ "$COMP_CWORD" = 1 ]; then
    COMPREPLY=($(compgen -W "%s" -- "$cur"))
    return
  fi
  case "${COMP_WORDS[1]}" in
    help) COMPREPLY=($(compgen -W "%[1]s" -- "$cur")); return ;;
%s  esac
  case "$cur" in
    -*) COMPREPLY=($(compgen -W "$words" -- "$cur")) ;;
    *) COMPREPLY=($(compgen -f -- "$cur")) ;;
  esac
}
complete -o filenames -F _windfall windfall
`, strings.Join(names, " "), cases.String())
	switch shell {
	case "bash":
		return bash, true
	case "zsh":
		return "autoload -U +X bashcompinit && bashcompinit\n" + bash, true
	case "fish":
		return fish.String(), true
	}
	return "", false
}
