package main

import "github.com/urfave/cli/v2"

// commands lists the commands in the order of the help text.
func commands() []*cli.Command {
	return []*cli.Command{
		demoCommand(),
		passageCommand(),
		courseCommand(),
		trialCommand(),
		speedsCommand(),
		forecastCommand(),
		cardCommand(),
		refitCommand(),
		boatCommand(),
		completionCommand(),
		manualCommand(),
	}
}
