"""Forecasts before a session: timing, pairs, order, a week; pure."""
