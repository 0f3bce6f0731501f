"""All words that people read, in one catalogue; who reads; names and units."""
