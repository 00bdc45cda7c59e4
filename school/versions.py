"""Name the versions of what runs here."""

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
    """Return name and version of each component that an answer depends on, by one query."""
    return [
        ("Training record", application_version()),
        ("Python", platform.python_version()),
        ("Django", version("django")),
        ("PostgreSQL", server_version()[1]),
        ("WeasyPrint", version("weasyprint")),
    ]
