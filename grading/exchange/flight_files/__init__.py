"""Read flight tracks: GPX, FAI IGC, CSV and KML files of strangers, into fixes. No Django: see read.py."""
