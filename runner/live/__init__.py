"""A running session: machine, record, cues and clock together."""
