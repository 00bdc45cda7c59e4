"""Finds and names whatever was changed behind the back of the application."""
