"""What the shell sees of the commands: how the help lists them, and what is offered when a name is begun."""
