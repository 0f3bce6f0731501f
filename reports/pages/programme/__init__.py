"""Pages of the monitoring programme: one aircraft, its year, before its next flight."""
