"""Define the forms of the pages."""
