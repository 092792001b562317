"""The outer ring of Keelnote: drivers, simulated devices and the entry points that compose them with the firmware."""
