"""Results in, pages out: knows no CSV and computes nothing. Start at :mod:`reports.site`."""
