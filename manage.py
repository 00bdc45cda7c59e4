#!/usr/bin/env python
"""Entry point of every command."""

import os
import sys

# The web application runs under a database role that owns no table; only these change the tables.
OWNER_COMMANDS = {"migrate", "sqlmigrate", "makemigrations", "showmigrations", "restore", "load_demo"}
# The demo has a folder of its own: it never meets the records of a school, and --fresh removes nothing else.
DEMO_COMMANDS = {"demo", "load_demo"}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "school.settings")
    if OWNER_COMMANDS.intersection(sys.argv[1:2]):
        os.environ.setdefault("DATABASE_ROLE", "owner")
    if DEMO_COMMANDS.intersection(sys.argv[1:2]):
        os.environ.setdefault("DATA_FOLDER", ".var/demo")
    from school.command_line import run

    sys.exit(run(sys.argv))


if __name__ == "__main__":
    main()
