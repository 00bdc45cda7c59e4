"""What is printed: contents of the sheets, the PDF, its signature, and what a printed file proves."""
