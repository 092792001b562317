"""Musical rules: intervals, notes, modes, keys, tunings, chords, harmony, naming and transposing parts."""
