"""The pure core: timing law, session machine, forecast. No clock, no input or output."""
