"""From bytes to typed columns: source, encoding, dialect, rows and cells."""
