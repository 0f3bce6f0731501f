"""Time columns to seconds that only grow, and to the moment a log began."""
