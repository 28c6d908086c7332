"""A rehearsal and the past, as text, pictures and data."""
