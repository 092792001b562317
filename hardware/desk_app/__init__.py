"""The box in a terminal: its screen, and its keys and knob on the computer's keyboard."""
