package main

import "github.com/spf13/cobra"

// commands lists what lull can do, in the order of its help.
func commands(c *console) []*cobra.Command {
	cobra.EnableCommandSorting = false
	return []*cobra.Command{
		newEpisodes(c),
		newStandstills(c),
		newCompare(c),
		newStarter(c),
		newReport(c),
		newServe(c),
		newSamples(c),
		newFrames(c),
		newRecord(c),
		newReplay(c),
		newDraft(c),
		newMap(c),
		newMetrics(c),
		newDemo(c),
		newCompletion(c),
		newVersion(c),
	}
}
