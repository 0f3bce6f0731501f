"""Columns of one file in each other's company: what they say of each other's channels, units and names."""
