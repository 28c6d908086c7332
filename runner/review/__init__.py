"""Looking back: what the record tells of a trainee, as text, on a screen and as pictures."""
