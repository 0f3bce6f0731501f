"""The monitoring programme of a logbook: what is kept of events, snags and remedies, and how they fare."""
