"""Hold the pure rules of how well a student flies: no Django, no clock, no query."""
