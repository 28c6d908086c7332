"""The session machine: commands in, events out; pure."""
