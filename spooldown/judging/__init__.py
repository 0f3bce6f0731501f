"""How flights are judged: limits files, marks that a person set, and both brought to bear."""
