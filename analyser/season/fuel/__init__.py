"""Burn over flights, what it teaches, and how long the timer may be."""
