"""A second, deliberately dumb timing law, stepping through integer ticks, for the tests."""
