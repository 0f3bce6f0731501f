"""Sheets that a person fills in, and what is typed in their place: rows, cells, notes, range checks."""
