"""How this installation is: for the page of the administrator, and for what watches a server."""
