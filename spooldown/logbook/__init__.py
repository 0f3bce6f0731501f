"""The logbook: a folder with an SQLite catalogue and one Parquet file a flight. Start at :mod:`spooldown.logbook.book`.

Layout of the folder::

    catalogue.sqlite     imports, flights and notes
    flights/<id>.parquet canonical telemetry, one file a flight
    register/*.toml      aircraft, packs and layouts, yours to edit
    limits/*.toml        limits of an aircraft, yours to edit
    mappings/*.toml      saved column mappings
    cache/               analysis results; safe to delete at any time
    pages/               the built pages, unless put elsewhere
"""
