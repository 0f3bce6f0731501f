"""The application: the command line and the logbook, which join importers, analyser and reports."""

__version__ = "0.1.0"
