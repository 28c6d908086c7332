"""The live session: the machine, the record, the cues and the clock, brought together.

Both faces (full screen and line mode) drive a `driver.Driver`; neither touches the machine,
the record or a sound by itself.
"""
