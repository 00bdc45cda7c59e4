"""Printed sheets: their contents, the PDF, its signature, and what a printed file proves."""
