"""Django's backend for PostgreSQL over a server that is started by the first connection (ENGINE "school.embedded")."""

from collections.abc import Iterable
from typing import Any

from django.db.backends.postgresql import base, client

from school.embedded.usage import use


class DatabaseClient(client.DatabaseClient):
    connection: "DatabaseWrapper"

    def runshell(self, parameters: Iterable[str]) -> None:
        # psql gets its address from the settings, which are empty where Django itself has not connected yet.
        self.connection.start_server()
        super().runshell(parameters)


class DatabaseWrapper(base.DatabaseWrapper):
    client_class = DatabaseClient

    def start_server(self) -> None:
        self.settings_dict["HOST"] = str(use(self.settings_dict["CLUSTER"]))

    def get_connection_params(self) -> dict[str, Any]:
        """Start the server first: every connection asks here for its address, also those of school/postgres.py."""
        self.start_server()
        return super().get_connection_params()
