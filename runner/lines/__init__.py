"""Line mode, and writing up from paper."""
