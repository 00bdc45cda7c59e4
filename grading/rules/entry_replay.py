"""Follow the entries of a lesson to what they leave behind, without a database. Pure.

What is compared: level, help, reason, faults, criteria and numbers of every attempt, how each circuit ended and who
flew it, the grades given, and the texts and counts of the lesson. What is not: which parts the closing key grades; that
depends on the syllabus. An attempt says of itself that it has its level from that key, and it must have been pressed.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from lessons.rules.scale import Ending, Help, Part

# As in grading/actions/circuit_entries.py: what the closing key writes.
TO_STANDARD = "to_standard"
# What is remembered beside the values, and compared with nothing.
TAKEN_BACK, LAST_CLOSING = ".taken_back", ".last_closing"
# The names under which a state is compared; an absent one is empty.
State = dict[str, str]


class Entry(NamedTuple):
    """An entry as it was made: a dotted field name, the value after it, and whether it took another one back."""

    field: str
    after: str
    takes_back: bool = False


def replay(before: Mapping[str, str], entries: Iterable[Entry]) -> State:
    """Return the state after entries, from the state before them; only values that are not empty are in it."""
    state = dict(before)
    for entry in entries:
        match entry.field.split("."):
            case ["circuit", number, ("ending" | "took_control") as what]:
                (_apply_ending if what == "ending" else _apply_took_control)(state, number, entry.after)
                state[f"circuit.{number}.ending{TAKEN_BACK}"] = "yes" if entry.takes_back else ""
            case ["circuit", number, "closed"]:
                _apply_closing(state, number, entry.after)
            case [*_, "help"]:
                state[entry.field] = "" if entry.after == Help.NONE else entry.after
            case _:
                state[entry.field] = entry.after
    return {name: value for name, value in state.items() if value}


def differences(expected: Mapping[str, str], actual: Mapping[str, str], entered: Iterable[str]) -> Iterator[str]:
    """Yield a sentence for each value that the entries do not lead to.

    actual: the state of the tables, in which a level that the closing key gave is "to_standard"; entered: the fields
    that have an entry. Values of the lesson itself and of grades are compared only where there is one: signing fills in
    the others.
    """
    touched = set(entered)
    for name in sorted(expected.keys() | actual.keys()):
        was, now = expected.get(name, ""), actual.get(name, "")
        if was == now or name.endswith((TAKEN_BACK, LAST_CLOSING)):
            continue
        if name.startswith(("lesson.", "grade.")) and (name not in touched or not was):
            continue
        if name.endswith(".level") and _given_by_closing(expected, name, was, now):
            continue
        if name.endswith((".landing_kind", ".ending")) and _begun_or_gone(expected, name, was, now):
            continue
        yield f"{name} was entered as {was or 'empty'}, is {now or 'empty'}"


def _given_by_closing(expected: Mapping[str, str], name: str, was: str, now: str) -> bool:
    """Return whether the closing key accounts for a level: it gives one, and opening again takes it back."""
    closed = expected.get(".".join(name.split(".")[:2]) + LAST_CLOSING, "")
    if now == TO_STANDARD:
        return not was and closed == TO_STANDARD
    return not now and was == TO_STANDARD and closed == "opened"


def _begun_or_gone(expected: Mapping[str, str], name: str, was: str, now: str) -> bool:
    """Return whether a circuit has what it began with, or is gone with the last entry in it, which was taken back."""
    taken_back = expected.get(f"{name}{TAKEN_BACK}") == "yes" or name.endswith(".landing_kind")
    return not was or (not now and taken_back)


def _apply_closing(state: State, number: str, after: str) -> None:
    state[f"circuit.{number}.closed"] = "on" if after else ""
    state[f"circuit.{number}{LAST_CLOSING}"] = after if after == TO_STANDARD else "" if after else "opened"


def _apply_ending(state: State, number: str, after: str) -> None:
    ending, *pairs = after.split(",")
    if state.get(f"circuit.{number}.ending") == Ending.TOOK_CONTROL and ending != Ending.TOOK_CONTROL:
        _release_control(state, number)
    state[f"circuit.{number}.ending"] = ending
    for pair in filter(None, pairs):
        part, _, word = pair.partition(".")
        state[f"circuit.{number}.{part}.help"] = "" if word == Help.NONE else word


def _apply_took_control(state: State, number: str, after: str) -> None:
    if after not in set(Part):
        _apply_ending(state, number, after)
        return
    _release_control(state, number)
    state[f"circuit.{number}.ending"] = Ending.TOOK_CONTROL.value
    state[f"circuit.{number}.{after}.help"] = Help.TOOK_CONTROL.value


def _release_control(state: State, number: str) -> None:
    for name, value in list(state.items()):
        if name.startswith(f"circuit.{number}.") and name.endswith(".help") and value == Help.TOOK_CONTROL:
            state[name] = ""
