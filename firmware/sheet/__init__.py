"""What is left after a rehearsal: notes.csv, log.jsonl and the sheet."""
