#!/usr/bin/env python
"""Entry point of every command."""

import os
import sys

# The web application runs under a database role that owns no table; only these change the tables.
OWNER_COMMANDS = {"migrate", "sqlmigrate", "makemigrations", "showmigrations", "restore", "load_demo"}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "school.settings")
    if OWNER_COMMANDS.intersection(sys.argv[1:2]):
        os.environ.setdefault("DATABASE_ROLE", "owner")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
