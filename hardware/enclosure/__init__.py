"""The enclosure, made by a script from the board's own measures: panels to cut, parts to print, a picture."""
