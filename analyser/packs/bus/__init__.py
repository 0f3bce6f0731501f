"""Packs that share one bus: what it drew, what lies between, brown-outs, and whether one pack carries it alone."""
