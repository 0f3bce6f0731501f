"""A monitoring programme for one owner's fleet: measures, limits, steps, snags and remedies, service, the year."""
