"""A student’s whole record as one file, which one school transfers and another imports."""
