"""The timing law and its values; pure, knows no session."""
