"""Antenna layouts over flights and walked range checks."""
