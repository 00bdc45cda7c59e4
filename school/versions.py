"""Which version of what runs here."""

import platform
import tomllib
from functools import lru_cache
from importlib.metadata import version

from django.conf import settings

from school.postgres import server_version


@lru_cache(maxsize=1)
def application_version() -> str:
    found: str = tomllib.loads((settings.BASE_DIR / "pyproject.toml").read_text())["project"]["version"]
    return found


def component_versions() -> list[tuple[str, str]]:
    """(name, version) of what an answer depends on. One query."""
    return [
        ("Training record", application_version()),
        ("Python", platform.python_version()),
        ("Django", version("django")),
        ("PostgreSQL", server_version()[1]),
        ("WeasyPrint", version("weasyprint")),
    ]
