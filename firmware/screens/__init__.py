"""The panel: pages drawn to a 128 x 64 picture, and what keys, knob and pedals mean. Start at render and gestures."""
