"""These modules read the database for the rules and for the pages."""
