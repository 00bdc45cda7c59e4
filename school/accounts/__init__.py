"""Who gets in: invitations, passwords, second steps, sessions. Logging in itself is django-allauth's.

Changes are made by `actions`; what allauth does is written in the journal by `receivers`, in its own transaction.
"""
