"""Hold the pure rules of what is flown: no Django, no clock, no query."""
