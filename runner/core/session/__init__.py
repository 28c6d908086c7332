"""The session machine: commands in, events out, states and transitions as data.

    commands   what the person, or the program for them, asks for
    decide     (state, command, now) -> events, or a refusal with its reason
    events     what happened; the record keeps these, and nothing else is needed
    evolve     (state, event) -> state; replaying the events gives the state again
    transitions  which event may follow in which phase, as a table

No clock: `now` is session seconds, 0 when the session was opened. What time brings about is
an event dated at its deadline (`decide.advance`).
"""
