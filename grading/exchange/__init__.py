"""Exchange with the outside: hand-over of records, imports, personal data and the calendar feed."""
