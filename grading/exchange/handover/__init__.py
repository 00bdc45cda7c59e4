"""A student’s whole record as one file: given out by one school, taken in by another."""
