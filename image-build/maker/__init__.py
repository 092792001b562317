"""Steps that make the SD-card image, one file for each; only Python's standard library and Debian's tools."""
