"""What can be known of a session before it: pure, by the timing law."""
