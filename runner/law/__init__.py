"""The timing law and what it counts by: pure, knows no session."""
