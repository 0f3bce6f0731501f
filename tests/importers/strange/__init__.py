"""Logs with strange clocks and shapes, written before looking at how the importer decides, each with its exact truth."""
