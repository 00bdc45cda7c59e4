"""Tables out of CSV and XLSX files: people, aircraft, past lessons from paper."""
