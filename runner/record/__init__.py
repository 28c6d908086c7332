"""The record: one SQLite file that keeps every event of every session, and its CSV.

info     what is known of a session before its first event; local times of its rows
text     which characters are kept
rows     (info, state, row) -> a row of the CSV for each side of each set; pure
schema   the tables, and how a file of an earlier form becomes one of today's
faults   SQLite's errors in the words of a person
files    opening a file that only its owner can read
writing  what a transaction of a session writes
reading  what is asked of the past
set_rows rows of sets read back, those of one session or all that a filter wants
store    `Record`, which the rest of the program uses
csvfile  the rows as CSV, and back
"""
