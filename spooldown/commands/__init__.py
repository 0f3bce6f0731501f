"""The commands, grouped by subject: each is thin, and loads what it needs only when it is called.

What several of them share is in :mod:`~spooldown.commands.options` and :mod:`~spooldown.commands.places`.
"""
