"""The desk: everything the commands do, in a browser. Start at :mod:`spooldown.desk.application`.

The desk holds no logic of its own: it shows forms, reads them, and calls the functions that the commands call.
"""
