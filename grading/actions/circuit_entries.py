"""Write what is entered of a whole circuit: how it ended, who took control, its kind of landing, and its closing."""

from collections.abc import Mapping

from django.db.models import Q, QuerySet

from grading.actions.entry_values import EntryChange, parse_choice, parse_number, unknown_entry
from grading.models import Attempt
from grading.reading.grade_lines import scale_of, step_columns
from lessons.models import Circuit, Lesson
from lessons.published_content import manoeuvres_by_code
from lessons.rules.landing_kinds import kinds_of_type
from lessons.rules.scale import Ending, Help, LandingKind, Part, UnitKind
from school.errors import Refusal

# Far more than a lesson has: it stops a sender that repeats itself.
MAX_CIRCUITS = 60
# Written as a level or as the closing of a circuit: the solo step, given by the key that closes and by no other tap.
TO_STANDARD = "to_standard"


def circuit_or_next(lesson: Lesson, number: str) -> Circuit:
    """Return the circuit of that number; its first entry begins the next one."""
    wanted = parse_number(number)
    flown = {circuit.number: circuit for circuit in lesson.circuits.all()}
    if wanted in flown:
        return flown[wanted]
    # Circuits are numbered without a gap: the numbers are what a sheet counts.
    if wanted != len(flown) + 1 or wanted > MAX_CIRCUITS:
        raise unknown_entry(f"circuit {number}")
    kind = usual_landing_kind(lesson, flown.get(wanted - 1))
    return Circuit.objects.create(lesson=lesson, number=wanted, ending=lesson.unit.ending, landing_kind=kind)


def usual_landing_kind(lesson: Lesson, before: Circuit | None) -> str:
    """Return the kind of landing that a circuit begins with: that of the circuit before, else the type's own."""
    if before is not None and before.landing_kind:
        return before.landing_kind
    kind = lesson.aircraft.type if lesson.aircraft else lesson.enrolment.aircraft_type
    return kinds_of_type(kind.tailwheel)[0].value


def delete_empty_circuit(lesson: Lesson) -> None:
    """Delete the last circuit if it is empty: after an undo no empty circuit may count a landing."""
    # Only the last one: deleting another would leave a gap in the numbers.
    last = lesson.circuits.order_by("-number").first()
    if last is None or last.closed or not is_empty(lesson, last):
        return
    before = lesson.circuits.filter(number=last.number - 1).first()
    if last.landing_kind in ("", usual_landing_kind(lesson, before)):
        last.delete()


def is_empty(lesson: Lesson, circuit: Circuit) -> bool:
    """Return whether nothing was tapped in a circuit; its kind of landing is there without a tap."""
    if circuit.shown or circuit.ending != lesson.unit.ending:
        return False
    # An attempt that was emptied entry by entry still has its row: only what is in it counts.
    return not _written(circuit).exists()


def _written(circuit: Circuit) -> QuerySet[Attempt]:
    return Attempt.objects.filter(circuit=circuit).filter(
        Q(level__isnull=False)
        | ~Q(help=Help.NONE)
        | ~Q(kept="")
        | Q(faults_seen__isnull=False)
        | Q(criteria_seen__isnull=False)
        | Q(measures__isnull=False)
    )


def write_landing_kind(circuit: Circuit, value: str) -> EntryChange:
    before, circuit.landing_kind = circuit.landing_kind, parse_choice(LandingKind, value).value if value else ""
    circuit.save(update_fields=["landing_kind"])
    return EntryChange(before, circuit.landing_kind)


def write_shown(lesson: Lesson, circuit: Circuit, value: str) -> EntryChange:
    if value == "on":
        refuse_in_solo(lesson)
    before, circuit.shown = circuit.shown, value == "on"
    circuit.save(update_fields=["shown"])
    return EntryChange("on" if before else "", "on" if circuit.shown else "")


def refuse_in_solo(lesson: Lesson) -> None:
    if lesson.unit.kind == UnitKind.SOLO:
        raise Refusal("This lesson is flown solo: nobody on board helped, took control or showed anything.")


def write_ending(lesson: Lesson, circuit: Circuit, value: str) -> EntryChange:
    """Write how a circuit ended. Control that was taken needs its part: `write_took_control` writes both."""
    ending, helps = _parse_ending(value)
    present = _helps(circuit)
    if ending is Ending.TOOK_CONTROL:
        refuse_in_solo(lesson)
        # An older tablet sends the help of the part first, in an entry of its own.
        if Help.TOOK_CONTROL not in {**present, **helps}.values():
            raise Refusal("Tap the part in which you took control.")
    elif circuit.ending == Ending.TOOK_CONTROL:
        # The other half of that entry: without it a circuit would say of itself that it was taken over and was not.
        helps = {part: Help.NONE for part, help_ in present.items() if help_ is Help.TOOK_CONTROL} | helps
    return _write_ending_and_helps(lesson, circuit, ending, helps, value)


def write_took_control(lesson: Lesson, circuit: Circuit, value: str) -> EntryChange:
    """Write that the instructor took control in one part, and with it how the circuit ended.

    Undo writes the other form, an ending with the help of each part: 'full_stop,landing.prompted'.
    """
    if value not in set(Part):
        return write_ending(lesson, circuit, value)
    refuse_in_solo(lesson)
    helps = {part: Help.NONE for part, help_ in _helps(circuit).items() if help_ is Help.TOOK_CONTROL}
    helps[Part(value)] = Help.TOOK_CONTROL
    return _write_ending_and_helps(lesson, circuit, Ending.TOOK_CONTROL, helps, value)


def _write_ending_and_helps(
    lesson: Lesson, circuit: Circuit, ending: Ending, helps: Mapping[Part, Help], value: str
) -> EntryChange:
    present = _helps(circuit)
    changed = {part: help_ for part, help_ in helps.items() if present.get(part, Help.NONE) is not help_}
    if not changed and circuit.ending == ending:
        return EntryChange(value, value)
    before = ",".join([circuit.ending, *(f"{part}.{help_}" for part, help_ in present.items())])
    # A go-around is an ending and a part: with a comma behind it, undo never reads it as the part taken over.
    before += "," if before in set(Part) else ""
    circuit_ending, circuit.ending = circuit.ending, ending
    circuit.save(update_fields=["ending"])
    for part, help_ in changed.items():
        attempt = Attempt.objects.filter(circuit=circuit, part=part).first() or _new_attempt(lesson, circuit, part)
        attempt.help = help_
        attempt.save()
    # One word wherever it is enough to write the state again.
    return EntryChange(before if changed else circuit_ending, value)


def _parse_ending(value: str) -> tuple[Ending, dict[Part, Help]]:
    ending, *helps = value.split(",")
    pairs = (row.partition(".") for row in helps if row)
    return parse_choice(Ending, ending), {parse_choice(Part, part): parse_choice(Help, word) for part, _, word in pairs}


def _helps(circuit: Circuit) -> dict[Part, Help]:
    """Return the help of the parts that had any."""
    rows = Attempt.objects.filter(circuit=circuit).exclude(help=Help.NONE).order_by("pk")
    return {Part(part): Help(help_) for part, help_ in rows.values_list("part", "help")}


def _new_attempt(lesson: Lesson, circuit: Circuit, part: Part) -> Attempt:
    manoeuvre = manoeuvres_by_code(lesson.unit.stage.syllabus_id).get(part.value)
    if manoeuvre is None:
        raise unknown_entry(part.value)
    return Attempt(lesson=lesson, circuit=circuit, part=part.value, manoeuvre_id=manoeuvre.pk)


def write_closed(lesson: Lesson, circuit: Circuit, value: str) -> EntryChange:
    """Close a circuit as tapped ('on') or with what was not tapped to standard ('to_standard'), or open it again ('').

    One number is closed once, however often its key is pressed. Opening takes back what the closing key gave.
    """
    if value not in {"", "on", TO_STANDARD}:
        raise unknown_entry(value)
    given = Attempt.objects.filter(circuit=circuit, by_closing=True)
    before = "" if not circuit.closed else TO_STANDARD if given.exists() else "on"
    if bool(value) == circuit.closed:
        return EntryChange(before, before)
    if value == TO_STANDARD:
        _grade_untapped(lesson, circuit)
    elif value and is_empty(lesson, circuit):
        raise Refusal(f"Not closed: nothing is tapped in circuit {circuit.number}.")
    elif not value:
        given.update(level=None, step="", by_closing=False)
        # What the closing key began holds nothing without it.
        Attempt.objects.filter(circuit=circuit).exclude(pk__in=_written(circuit)).delete()
    circuit.closed = bool(value)
    circuit.save(update_fields=["closed"])
    return EntryChange(before, value)


def _grade_untapped(lesson: Lesson, circuit: Circuit) -> None:
    """Give every part that the pad offers and nobody tapped the solo step, marked as given by the closing key."""
    if circuit.shown:
        return
    flown = {Part(row.part): row for row in Attempt.objects.filter(circuit=circuit).prefetch_related("faults_seen")}
    for part in Part:
        row = flown.get(part)
        # A fault without a level says that it was not to standard, and not what it was.
        if row is not None and _is_untapped(row) and row.faults_seen.all():
            raise Refusal(f"{part.label} has a fault: tap its level first.")
    solo = scale_of(lesson).solo
    columns = step_columns(scale_of(lesson).step(solo))
    for part in asked_parts(lesson, circuit, flown):
        attempt = flown.get(part) or _new_attempt(lesson, circuit, part)
        attempt.level, attempt.step, attempt.by_closing = columns["level"], columns["step"], True
        attempt.save()


def asked_parts(lesson: Lesson, circuit: Circuit, flown: Mapping[Part, Attempt]) -> list[Part]:
    """Return the parts that closing to standard grades, in the order flown."""
    known = manoeuvres_by_code(lesson.unit.stage.syllabus_id)
    asked: list[Part] = [part for part in Part if part.value in known and part is not Part.GO_AROUND]
    before = lesson.circuits.filter(number=circuit.number - 1).first()
    if before is not None and before.ending == Ending.GO_AROUND:
        asked.remove(Part.TAKEOFF)
    if circuit.ending == Ending.GO_AROUND:
        # A landing that was tried before the go-around has its own level; one that was not tried has none.
        asked = [*(part for part in asked if part is not Part.LANDING), Part.GO_AROUND]
    if circuit.ending == Ending.TOOK_CONTROL:
        # The instructor flew from there on.
        taken = [part for part in asked if part in flown and flown[part].help == Help.TOOK_CONTROL]
        asked = asked[: asked.index(taken[0])] if taken else asked
    return [part for part in asked if part not in flown or _is_untapped(flown[part])]


def _is_untapped(attempt: Attempt) -> bool:
    return attempt.level is None and attempt.help != Help.TOOK_CONTROL
