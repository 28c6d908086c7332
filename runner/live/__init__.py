"""A running session: joins machine, record, cues and clock."""
