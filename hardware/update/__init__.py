"""Updates of the box's own image from a stick: judged, written to the other slot, tried once, kept or left.

Run as root by units of the image, apart from the box itself, which goes on playing.
"""
