"""The whole record in one file, and back: made, kept, checked and restored by commands of manage.py."""
