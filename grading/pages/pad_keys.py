"""Name what the keys of a pad show: plain values, by which the rendered keys are cached."""

from dataclasses import dataclass

from lessons.rules.scale import Help

HELP_WORDS = {
    Help.NONE: "none",
    Help.PROMPTED: "prompted",
    Help.ASSISTED: "assisted",
    Help.TOOK_CONTROL: "took control",
}
# None: nobody looked at it, which is another thing than “not done”.
CRITERION_VALUES = {None: None, True: "done", False: "not_done"}


@dataclass(frozen=True)
class PadKey:
    """One key of the pad: an input by name and value. `level` is the mark that it shows."""

    value: str
    label: str
    chosen: bool
    level: str = ""


@dataclass(frozen=True)
class CriterionEntry:
    field: str
    text: str
    keys: tuple[PadKey, ...]


@dataclass(frozen=True)
class FaultEntry:
    """One fault. `standing`: 'open, clean 1 of 3' where the student has it open. signs: what numbers point to it."""

    field: str
    code: str
    name: str
    critical: bool
    seen: bool
    cause: str = ""
    cure: str = ""
    signs: tuple[str, ...] = ()
    standing: str = ""

    @property
    def words(self) -> str:
        return ", ".join(filter(None, [self.standing, "critical" if self.critical else ""]))
