"""Many aircraft, many flights: logbooks on object storage, and a cluster that works the flights out.

:mod:`spooldown.fleet.storage` reads a logbook by its address. :mod:`spooldown.fleet.cluster` spreads over a Dask
cluster (``pip install spooldown[fleet]``) the work that :mod:`spooldown.processes.workers` spreads over one machine's
cores.
"""
