"""What can be known of a session before it begins; pure."""
