"""Report how this installation runs, to the administrator's page and to what monitors a server."""
