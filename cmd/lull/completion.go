package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/words"
)

var shells = []string{"bash", "zsh", "fish", "powershell"}

// bashNeeds is what the script for bash cannot do without.
const bashNeeds = "In bash it needs the package bash-completion, version 2 or later, installed and loaded before it."

func newCompletion(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "writes the completion script of a shell",
		Long: "Writes a script that teaches the shell to complete lull's commands, flags and their values. " +
			"SHELL is bash, zsh, fish or powershell.\n" +
			bashNeeds,
		Example: "  source <(lull completion bash)\n" +
			"  lull completion zsh > \"${fpath[1]}/_lull\"\n" +
			"  lull completion fish > ~/.config/fish/completions/lull.fish\n" +
			"  lull completion powershell | Out-String | Invoke-Expression",
		ValidArgs: shells,
		Args:      wants(1, 1, "the name of a shell"),
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			switch args[0] {
			case "bash":
				if _, err := fmt.Fprintln(c.out, "# "+bashNeeds); err != nil {
					return err
				}
				return root.GenBashCompletionV2(c.out, true)
			case "zsh":
				return root.GenZshCompletion(c.out)
			case "fish":
				return root.GenFishCompletion(c.out, true)
			case "powershell":
				return root.GenPowerShellCompletionWithDesc(c.out)
			}
			return words.Misused(suggestion(nearest(args[0], shells), "", "known are bash, zsh, fish and powershell"),
				"%s: no completion for this shell", args[0])
		},
	}
}
