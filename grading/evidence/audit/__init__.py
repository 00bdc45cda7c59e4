"""Report every record that was changed by other means than the application."""
