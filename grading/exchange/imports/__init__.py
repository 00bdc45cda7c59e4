"""Read tables from CSV and XLSX files: people, aircraft, past lessons from paper."""
