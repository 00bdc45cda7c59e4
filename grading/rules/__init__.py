"""Pure rules of how well: no Django, no clock, no query."""
