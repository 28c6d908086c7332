"""The command line: one module a command, heavy imports inside the command that needs them."""
