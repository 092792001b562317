"""Subcommands of `keelnote`, one file each: `add_arguments` declares its options, `run` does it."""
