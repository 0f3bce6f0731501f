"""From the logbook to results, pages and tables: what is known is kept, what is new is worked out."""
