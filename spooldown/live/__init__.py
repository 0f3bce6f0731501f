"""While it happens: telemetry recorded as it comes, watched meanwhile, and flights played as a live source."""
