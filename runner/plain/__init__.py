"""Line mode: the same session without a screen, for screen readers, dumb terminals and scripts."""
