"""Rehearsal plans, and the checked reading of all our TOML files."""
