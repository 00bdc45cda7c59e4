"""PostgreSQL on this machine, from the wheel's own programs, for an installation without a database server.

One cluster under a folder of the project, reached over a Unix socket in a directory that only its
account may enter, which is why the connection needs no password. Two roles: `record_owner` owns the
tables and changes them by migration; `record_app` reads and writes rows, owns nothing, and is the
one the web application runs under. That is a fence against mistakes and injected SQL, not against
the machine's own account, which can read the files anyway.
"""

from school.embedded.cluster import database, on_demand, remove, status, stop
from school.embedded.place import OUTSIDE, UNPRIVILEGED, Unavailable, lies_inside, programs
from school.embedded.server import ROLES
from school.embedded.usage import use

__all__ = [
    "OUTSIDE",
    "ROLES",
    "UNPRIVILEGED",
    "Unavailable",
    "database",
    "lies_inside",
    "on_demand",
    "programs",
    "remove",
    "status",
    "stop",
    "use",
]
