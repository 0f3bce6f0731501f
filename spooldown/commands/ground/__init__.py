"""Commands of the work on the ground: bench procedures, walked range checks, the owner's checklist."""
