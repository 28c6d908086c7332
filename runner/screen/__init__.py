"""The full screen."""
