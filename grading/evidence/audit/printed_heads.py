"""Check what left the database: heads of the chain on printed sheets and in earlier audits, and bytes of sheets."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from django.db.models import F, Func, TextField, Value

from grading.evidence import outside_head
from grading.models import RecordCheck, Sheet


class WitnessedHeads:
    """Heads of the chain that were printed or stored: the chain must have the same digest at the same number."""

    def __init__(self) -> None:
        self.without = 0
        self._seen: dict[int, list[tuple[str, str]]] = defaultdict(list)
        # From the stored content; an auditor who has the paper compares that by `check_records --head`.
        for sheet in Sheet.objects.only("kind", "number", "content").order_by("pk").iterator(chunk_size=200):
            self._add_sheet(sheet)
        for check in RecordCheck.objects.exclude(head="").only("at", "seals", "head").order_by("pk").iterator():
            self._seen[check.seals].append((check.head, f"the check of {check.at:%Y-%m-%d %H:%M} UTC"))
        self.outside = outside_head.read()
        if self.outside is not None:
            who = f"the head of {self.outside.at} that is kept outside the database"
            self._seen[self.outside.number].append((self.outside.digest, who))

    def _add_sheet(self, sheet: Sheet) -> None:
        name = f"the {sheet.get_kind_display()} {sheet.number}, id {sheet.content.get('id', sheet.pk)},"
        given = [head for key in ("head", "seal") if _is_head(head := sheet.content.get(key))]
        for head in given:
            self._seen[head["number"]].append((head["digest"], name))
        self.without += not given

    def contradicting_witnesses(self, number: int, digest: str) -> list[str]:
        """Return those who saw another digest at this number."""
        # Removed once compared: what is left after the walk are heads of seals that are no longer in the chain.
        return [who for seen, who in self._seen.pop(number, []) if seen != digest]

    def heads_beyond_chain(self) -> Iterator[tuple[int, str]]:
        """Yield heads whose seals are not in the chain any more."""
        for number in sorted(self._seen):
            for _, who in self._seen[number]:
                yield number, who


def _is_head(value: Any) -> bool:
    return isinstance(value, dict) and isinstance(value.get("number"), int) and isinstance(value.get("digest"), str)


def altered_sheets() -> Iterator[str]:
    """Yield sheets whose bytes differ from the printed ones. The database computes the digest, so no bytes travel."""
    digest = Func(Func(F("pdf"), function="sha256"), Value("hex"), function="encode", output_field=TextField())
    rows = Sheet.objects.annotate(now=digest).exclude(now=F("digest")).defer("pdf", "content")
    for sheet in rows.select_related("enrolment__student", "instructor").order_by("pk"):
        yield f"{sheet}: its bytes are not those that were printed"
