"""Invented schools: the demo, and an academy of any size to measure with."""
