"""Statistics that every subject uses: robust scatter, smoothing, trends and steps, where a series begins and ends."""
