"""Pure rules of what is flown: no Django, no clock, no query."""
