"""Write the whole record into one file, check it and restore it; commands of manage.py call this package."""
