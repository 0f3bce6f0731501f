"""Files that are no table of rows until they are rewritten as one.

A spreadsheet's own writing of texts (``="8.21"``), a table on its side (one row a sensor, the time along the columns),
tables of single sensors one below the other under titles, or side by side with a time each, and cells that name their
value (``V=8.21``). Each is known by its form alone and rewritten whole, so that all else reads plain text; what is not
certain is left as it is. A further form is a module with two functions, and a line in ``forms``.
"""

from importers.table.rewriting.forms import rewritten
from importers.table.rewriting.repeated import numbered
from importers.table.rewriting.source import Rewritten

__all__ = ["Rewritten", "numbered", "rewritten"]
