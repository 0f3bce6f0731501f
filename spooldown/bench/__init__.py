"""Bench procedures in the logbook: written down, read from a log, kept, and handed to the analysis."""
