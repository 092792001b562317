"""Chords that move: progressions, how each chord is tuned after the one before, and how its voices are led."""
