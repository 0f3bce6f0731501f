"""Things of one type beside each other, over all aircraft of a logbook: packs, engines, antenna layouts."""
