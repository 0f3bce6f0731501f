"""The monitoring programme on the desk: snags and remedies, events validated, limits tried as they are typed."""
