"""The commands with their options, group by group; what a command does is imported when it is called."""
