"""Define the dated set of requirements and thresholds. Thresholds are data; a legal one cannot be loosened."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from lessons.rules.scale import Level

Threshold = int | str | tuple[str, ...]
# The value of a requirement about numbers at the gates: 1 where those from a flight track count, 0 where not.
FROM_TRACKS = "from_tracks"


class StandardError(ValueError):
    """Refuse a standard that cannot be used; the text names the requirement and what is wrong with it."""


@dataclass(frozen=True)
class RequirementSpec:
    """Define one requirement: which check decides it, with which thresholds, on whose authority."""

    key: str
    check: str
    title: str
    group: str
    kind: str
    source: str
    values: Mapping[str, Threshold] = field(default_factory=dict)

    def number(self, name: str) -> int:
        """Return a threshold that is a number. StandardError where it is missing or something else."""
        value = self.values.get(name)
        if not isinstance(value, int):
            raise StandardError(f"{self.key}: the value “{name}” must be a whole number, got {value!r}")
        return value

    def words(self, name: str) -> tuple[str, ...]:
        """Return a threshold that is a list of words. StandardError where it is missing or something else."""
        value = self.values.get(name)
        if not isinstance(value, tuple):
            raise StandardError(f"{self.key}: the value “{name}” must be a list of words, got {value!r}")
        return value

    @property
    def counts_tracks(self) -> bool:
        """Return whether numbers from a flight track count; they do where a standard does not say it."""
        return self.values.get(FROM_TRACKS, 1) != 0

    @property
    def manoeuvres(self) -> tuple[str, ...]:
        """Return the codes of the manoeuvres that it judges; empty where its values name none."""
        return next((self.words(name) for name in ("part", "manoeuvres") if name in self.values), ())


# What a limit may be at least and at most: beyond it the value is more likely a slip of the hand than a wish.
POLICY_BOUNDS: dict[str, tuple[int, int]] = {
    "long_gap_days": (1, 90),
    "relapse_good_failures_percent": (1, 98),
    "relapse_bad_failures_percent": (2, 99),
    "gate_numbers_least": (3, 30),
    "gate_numbers_most": (3, 100),
    "hours_to_sign": (1, 168),
    "days_to_acknowledge": (1, 90),
    "days_to_review": (1, 90),
    "max_days_between_lessons": (1, 365),
}


@dataclass(frozen=True, slots=True)
class Policy:
    """Set the school's own limits that belong to no single requirement. None of them is law.

    long_gap_days: since the last flight, after which the board asks for a dual lesson next.
    relapse_good_failures_percent, relapse_bad_failures_percent: a failure rate that is still at standard, and one
    that no longer is. One in ten and one in three are the project's own choice, not a published pair.
    gate_numbers_least, gate_numbers_most: with fewer numbers nothing is said of a gate; only the last ones count.
    hours_to_sign, days_to_acknowledge, days_to_review, max_days_between_lessons: common practice, by which the
    records are inspected.

    A standard published before it held a policy means exactly these defaults, so they never change.
    """

    long_gap_days: int = 14
    relapse_good_failures_percent: int = 10
    relapse_bad_failures_percent: int = 33
    gate_numbers_least: int = 6
    gate_numbers_most: int = 10
    hours_to_sign: int = 24
    days_to_acknowledge: int = 7
    days_to_review: int = 7
    max_days_between_lessons: int = 30

    def __post_init__(self) -> None:
        # Checked here and not in validate_standard, which runs with every verdict: a wrong policy cannot exist.
        for name, (least, most) in POLICY_BOUNDS.items():
            value = getattr(self, name)
            if not least <= value <= most:
                raise StandardError(f"{name} lies between {least} and {most}, got {value}")
        if self.relapse_good_failures_percent >= self.relapse_bad_failures_percent:
            raise StandardError("relapse_good_failures_percent lies below relapse_bad_failures_percent")
        if self.gate_numbers_least > self.gate_numbers_most:
            raise StandardError("gate_numbers_least is not above gate_numbers_most")


DEFAULT_POLICY = Policy()


@dataclass(frozen=True)
class StandardSpec:
    """Describe one published standard. It is immutable: a change is a new one with a later `valid_from`."""

    key: str
    rule_set: str
    title: str
    valid_from: date
    solo_level: Level
    requirements: tuple[RequirementSpec, ...]
    policy: Policy = DEFAULT_POLICY

    def requirement(self, key: str) -> RequirementSpec:
        """Return the requirement with this key. KeyError for a key that this standard does not have."""
        for spec in self.requirements:
            if spec.key == key:
                return spec
        raise KeyError(key)


# What the law asks for at least (or at most), by rule set: (check, value) -> (least, most), None where it is silent.
# A trigger of the database checks again against the first standard of the rule set, so that no later one loosens the
# law.
LEGAL_BOUNDS: dict[str, dict[tuple[str, str], tuple[int | None, int | None]]] = {
    "us": {
        ("age", "years"): (16, None),  # 14 CFR 61.83(a)
        ("recent_training", "days"): (None, 90),  # 14 CFR 61.87(n)
    },
    # The days of recency are the school's own there: no European rule that names any was read.
    "eu": {("age", "years"): (16, None)},  # FCL.020(b), from memory
}
REQUIREMENT_KINDS = ("legal", "school")
REQUIREMENT_GROUPS = ("papers", "training", "standard", "consistency", "recency")


def validate_standard(standard: StandardSpec, checks: Mapping[str, object]) -> None:
    """Raise StandardError for a standard that names unknown checks, cannot be met, or loosens a legal threshold."""
    keys: set[str] = set()
    for spec in standard.requirements:
        if spec.key in keys:
            raise StandardError(f"{spec.key}: this requirement is there twice")
        keys.add(spec.key)
        if spec.check not in checks:
            raise StandardError(f"{spec.key}: there is no check named “{spec.check}”")
        if spec.kind not in REQUIREMENT_KINDS or spec.group not in REQUIREMENT_GROUPS:
            raise StandardError(
                f"{spec.key}: kind must be one of {REQUIREMENT_KINDS}, group one of {REQUIREMENT_GROUPS}"
            )
        good, last = spec.values.get("good"), spec.values.get("last")
        if isinstance(good, int) and isinstance(last, int) and good > last:
            raise StandardError(f"{spec.key}: {good} of the last {last} cannot be reached; ask for at most {last}.")
        for (check, name), (least, most) in LEGAL_BOUNDS.get(standard.rule_set, {}).items():
            if spec.check != check:
                continue
            value = spec.number(name)
            if spec.kind != "legal":
                raise StandardError(f"{spec.key}: this is required by law and stays “legal”")
            if (least is not None and value < least) or (most is not None and value > most):
                bound = f"at least {least}" if least is not None else f"at most {most}"
                raise StandardError(f"{spec.key}: the law asks for {bound}, got {value}")
