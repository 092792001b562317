"""The self-test: asks the builder for each press and turn, measures the rest, and says what is wrong in the wiring."""
