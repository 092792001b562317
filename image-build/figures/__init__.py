"""Figures of the image: how soon it plays, what it needs of memory and processor, what it writes on its card."""
