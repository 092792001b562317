"""The emulated board on which the full-system test runs the image as it is, driven from outside."""
