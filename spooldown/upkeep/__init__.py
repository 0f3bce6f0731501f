"""Looking after a logbook: verified, each damage named, and mended where it can be."""
