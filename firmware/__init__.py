"""The pure half of Keelnote: musical rules, sound, hearing and pictures, without any device, clock, thread or file."""
