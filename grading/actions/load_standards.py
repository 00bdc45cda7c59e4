"""Load the published standards of fixtures/standards into the database."""

import json
from datetime import date
from pathlib import Path

from django.conf import settings

from grading.models import Standard

FIXTURES: Path = settings.BASE_DIR / "fixtures"


def load_standards(since: date | None = None) -> None:
    """Create the standards that are missing, in force since a day; a published one never changes."""
    # Sorted: the database compares every later standard with the legal requirements of the first of its rule set.
    for path in sorted((FIXTURES / "standards").glob("*.json")):
        content = json.loads(path.read_text())
        if since is not None:
            content["valid_from"] = since.isoformat()
        # Not update_or_create: past verdicts rest on a published standard, and a trigger refuses to change it.
        Standard.objects.get_or_create(
            key=content["key"],
            defaults={"rule_set": content["rule_set"], "valid_from": content["valid_from"], "content": content},
        )
