"""Manage access: invitations, passwords, second steps and sessions. Logging in itself is django-allauth's.

`actions` makes the changes; `receivers` writes what allauth does in the journal, in allauth's own transaction.
"""
