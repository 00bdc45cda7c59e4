"""Load the published standards of fixtures/standards into the database."""

import json
from datetime import date
from pathlib import Path

from django.conf import settings

from grading.models import Standard

FIXTURES: Path = settings.BASE_DIR / "fixtures"


def load_standards(since: date | None = None) -> None:
    """Create the standards that are missing, in force since a day; a published one never changes."""
    for path in sorted((FIXTURES / "standards").glob("*.json")):
        content = json.loads(path.read_text())
        if since is not None:
            content["valid_from"] = since.isoformat()
        Standard.objects.get_or_create(
            key=content["key"],
            defaults={"rule_set": content["rule_set"], "valid_from": content["valid_from"], "content": content},
        )
