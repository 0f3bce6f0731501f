"""How a whole file is laid out: its shape, one proposal a column, and saved mappings."""
