"""Relations between the columns of one file: what they say of each other's channels, units and names."""
