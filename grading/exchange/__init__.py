"""What leaves for elsewhere and what comes in: hand-over, imports, personal data, the calendar feed."""
