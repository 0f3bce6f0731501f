"""Bench procedures: what is proved on the ground, before and between flights.

:mod:`analyser.bench.procedures` says what each procedure takes, :mod:`analyser.bench.reading` fills it in from a log
recorded meanwhile, and :mod:`analyser.bench.analysis` turns what was kept into figures beside limits, earlier runs and
flights.
"""
