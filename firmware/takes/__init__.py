"""Takes: the pre-roll that has already happened, the cut to the sample, and the markers of a take."""
