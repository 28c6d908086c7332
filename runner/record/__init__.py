"""The record: one SQLite file, and the CSV in and out of it."""
