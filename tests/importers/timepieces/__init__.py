"""A third pool of clocks and shapes: logs by rules that were written before the importer's code was read.

Every kind of log comes twice, by two hands that differ in language, marks and habits. The logs of the second hand were
sealed: only their totals were looked at until those of the first were mended.
"""
