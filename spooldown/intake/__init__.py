"""Logs into the logbook: one file, many side by side, several files of one flight, a flight read again."""
