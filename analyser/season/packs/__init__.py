"""A pack over its flights: resistance, capacity, identity, and when to retire it."""
