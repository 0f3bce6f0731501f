"""Text in, canonical telemetry out: knows CSV, knows no analysis. Start at :mod:`importers.plan`."""
