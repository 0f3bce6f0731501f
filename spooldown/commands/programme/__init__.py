"""The monitoring programme on the command line: limits, marks, snags, remedies, service, the year."""
