"""Fly circuits in wind, and note them as a receiver does: the flight tracks of the demo, and of the tests.

It knows nothing of how a track is measured: what it flies is what the measuring is held against.
"""
