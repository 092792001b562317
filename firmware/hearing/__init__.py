"""Hears the players: pitch, the box's own sound taken out, level, held notes."""
