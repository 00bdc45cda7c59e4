"""Short signs of the people who signed what a sheet shows: who they are, and what they signed, stands on it once."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from grading.models import Signature
from school.days import day_of
from school.formats import write_clock, write_day, write_days_within

Plain = Mapping[str, Any]


@dataclass(frozen=True)
class Signer:
    """A person in one capacity with one certificate: sign, name, what they are."""

    sign: str
    name: str
    capacity: str
    reference: str
    certificate: str


@dataclass(frozen=True)
class Mark:
    """A signature on a line. act: its mark; when: the time alone on the day of the line; remark and handwriting."""

    act: str
    sign: str
    when: str
    remark: str = ""
    drawn: str = ""
    label: str = ""

    @property
    def clock(self) -> str:
        """Return the time where the table names its zone."""
        return self.when.removesuffix(" UTC")


@dataclass
class Signs:
    """The signers of a sheet in order, and each wording that they signed with the capacity that signed it."""

    signers: dict[tuple[str, ...], Signer] = field(default_factory=dict)
    meanings: dict[tuple[str, str], None] = field(default_factory=dict)

    def mark(self, signature: Plain, day: str = "") -> Mark:
        """Return the mark of a signature for a line of a day (ISO 8601, UTC)."""
        signer = self.signer(signature)
        if signature["meaning"]:
            self.meanings[signature["capacity"], signature["meaning"]] = None
        at = datetime.fromisoformat(signature["signed_at"]).astimezone(UTC)
        when = f"{write_clock(at)} UTC"
        signed_on = day_of(at, UTC)
        if signed_on.isoformat() != day:
            when = f"{write_day(signed_on)}, {when}"
        act = signature["act"] if signature["act"] != "refused" else "withdrawn"
        label = "" if signature["act"] == "signed" else signature["act"].replace("_", " ")
        return Mark(act, signer.sign, when, signature.get("remark", ""), signature.get("drawn", ""), label)

    def signer(self, signature: Plain) -> Signer:
        """Return the person, with a sign that nobody else on the sheet has."""
        names = ("name", "reference", "capacity", "certificate_number", "certificate_valid")
        key = tuple(str(signature.get(name, "")) for name in names)
        if key not in self.signers:
            number, valid = key[3], key[4]
            certificate = ", ".join(part for part in (number, write_days_within(valid)) if part)
            self.signers[key] = Signer(self._sign_of(key), key[0], _capacity(key[2]), key[1], certificate)
        return self.signers[key]

    def _sign_of(self, key: tuple[str, ...]) -> str:
        """Return the initials; of a second person with the same, or a second certificate, with a number."""
        initials = "".join(word[0] for word in key[0].replace("-", " ").split() if word[0].isalpha()).upper() or "X"
        initials = initials[0] + initials[-1] if len(initials) > 2 else initials
        taken = {signer.sign for signer in self.signers.values()}
        return next(sign for sign in self._numbered(initials) if sign not in taken)

    @staticmethod
    def _numbered(initials: str) -> Iterator[str]:
        yield initials
        number = 2
        while True:
            yield f"{initials}{number}"
            number += 1

    def wordings(self) -> list[tuple[str, list[str]]]:
        """Return what each capacity signed, every wording once."""
        grouped: dict[str, list[str]] = {}
        for capacity, meaning in self.meanings:
            grouped.setdefault(_capacity(capacity), []).append(meaning)
        return list(grouped.items())

    def people(self) -> Iterable[Signer]:
        return self.signers.values()


def _capacity(code: str) -> str:
    return Signature.Capacity(code).label if code in Signature.Capacity.values else code.replace("_", " ")
