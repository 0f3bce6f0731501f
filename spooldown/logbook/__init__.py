"""The logbook: a folder with an SQLite catalogue and one Parquet file a flight."""
