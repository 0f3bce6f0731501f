"""Plotly figures as plain dictionaries, one module a subject."""
