"""What the database says, read for the rules and for pages."""
