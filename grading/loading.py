"""The published standards of fixtures/standards, put into the database."""

import json
from pathlib import Path

from django.conf import settings

from grading.models import Standard

FIXTURES: Path = settings.BASE_DIR / "fixtures"


def load_standards() -> None:
    """Those that are not there yet; a published one never changes."""
    for path in sorted((FIXTURES / "standards").glob("*.json")):
        content = json.loads(path.read_text())
        Standard.objects.get_or_create(
            key=content["key"],
            defaults={"rule_set": content["rule_set"], "valid_from": content["valid_from"], "content": content},
        )
