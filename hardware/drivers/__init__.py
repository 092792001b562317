"""The drivers of real devices: the only code that touches the world."""
