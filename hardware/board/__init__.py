"""Where everything sits on the board: pins, buses, and the checks that keep them apart."""
