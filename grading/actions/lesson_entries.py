"""Write each entry of a lesson: field name and value in, the texts before and after out.

The grammar of the names is in recording.py, the only caller.
"""

from decimal import Decimal

from django.core.exceptions import ValidationError

from grading.actions import circuit_entries, lesson_details
from grading.actions.circuit_entries import TO_STANDARD, circuit_or_next, refuse_in_solo
from grading.actions.entry_values import EntryChange, parse_choice, parse_number, unknown_entry
from grading.models import Attempt, CriterionSeen, FaultSeen, Grade, Measure
from grading.models.attempt import FROM_TRACK
from grading.reading.grade_lines import scale_of, step_columns
from lessons.fields import parse_decimal
from lessons.models import Circuit, Criterion, Fault, GateSet, GateTarget, Lesson, Manoeuvre
from lessons.published_content import manoeuvres_by_code
from lessons.rules.scale import Help, Part, Step
from lessons.rules.units import DisplayUnits, convert
from school.current import get_school
from school.errors import Refusal

DONE_VALUES = {"done": True, "not_done": False}


def write_entry(lesson: Lesson, field: str, value: str) -> EntryChange:
    """Write one entry, or raise Refusal with a sentence."""
    try:
        match field.split("."):
            case ["circuit", number, ("ending" | "took_control" | "closed" | "landing_kind" | "shown") as what]:
                return _write_circuit(lesson, circuit_or_next(lesson, number), what, value)
            case ["circuit", number, part, *what]:
                return _write_attempt(_circuit_attempt(lesson, number, part), what, value)
            case ["manoeuvre", code, *what]:
                return _write_attempt(_standalone_attempt(lesson, code), what, value)
            case ["grade", code]:
                return _write_grade(lesson, code, value)
            case ["lesson", name]:
                return EntryChange(*lesson_details.write_detail(lesson, name, value))
    # The fields of forms raise this; callers know refusals only, and a tablet's event is stored with their sentence.
    except ValidationError as error:
        raise Refusal(" ".join(error.messages)) from error
    raise unknown_entry(field)


def _write_circuit(lesson: Lesson, circuit: Circuit, what: str, value: str) -> EntryChange:
    match what:
        case "ending":
            return circuit_entries.write_ending(lesson, circuit, value)
        case "took_control":
            return circuit_entries.write_took_control(lesson, circuit, value)
        case "landing_kind":
            return circuit_entries.write_landing_kind(circuit, value)
        case "shown":
            return circuit_entries.write_shown(lesson, circuit, value)
    return circuit_entries.write_closed(lesson, circuit, value)


def _circuit_attempt(lesson: Lesson, number: str, part: str) -> Attempt:
    word, circuit_number = parse_choice(Part, part), parse_number(number)
    known = Attempt.objects.filter(lesson=lesson, circuit__number=circuit_number, part=word).first()
    if known is not None:
        # The locked instance has unit, scale and aircraft loaded: a tap waits for every query more.
        known.lesson = lesson
        return known
    manoeuvre, circuit = _find_manoeuvre(lesson, word.value), circuit_or_next(lesson, number)
    return Attempt(lesson=lesson, circuit=circuit, part=word, manoeuvre=manoeuvre)


def _standalone_attempt(lesson: Lesson, code: str) -> Attempt:
    its = {"circuit": None, "manoeuvre": _find_manoeuvre(lesson, code), "ordinal": 1}
    attempt = Attempt.objects.filter(lesson=lesson, **its).first() or Attempt(**its)
    attempt.lesson = lesson
    return attempt


def _find_manoeuvre(lesson: Lesson, code: str) -> Manoeuvre:
    manoeuvre = manoeuvres_by_code(lesson.unit.stage.syllabus_id).get(code)
    if manoeuvre is None:
        raise unknown_entry(code)
    return manoeuvre.to_model()


def _write_attempt(attempt: Attempt, what: list[str], value: str) -> EntryChange:
    """Write one entry of an attempt, which its first entry creates."""
    # A plain form sends every key of the pad: those of a part that nobody touched begin no attempt at it.
    if attempt.pk is None and value in ("", Help.NONE.value):
        return EntryChange(value, value)
    match what:
        # Level and help before the row is created: an entry that begins an attempt writes it once.
        case ["level"]:
            return _write_level(attempt, value)
        case ["help"]:
            before, attempt.help = attempt.help, parse_choice(Help, value or Help.NONE)
            if attempt.help != Help.NONE:
                refuse_in_solo(attempt.lesson)
            attempt.save(update_fields=["help"] if attempt.pk else None)
            return EntryChange(before, attempt.help)
        case ["kept"]:
            before, attempt.kept = attempt.kept, _parse_reason(value)
            attempt.save(update_fields=["kept"] if attempt.pk else None)
            return EntryChange(before, attempt.kept)
    if attempt.pk is None:
        # The lesson is locked, so no other request creates the same attempt meanwhile.
        attempt.save()
    match what:
        case ["fault", code]:
            return _write_fault(attempt, code, value)
        case ["criterion", code]:
            return _write_criterion(attempt, code, value)
        case ["measure", gate, quantity]:
            return _write_measure(attempt, gate, quantity, value)
    raise unknown_entry(".".join(what))


def _write_level(attempt: Attempt, value: str) -> EntryChange:
    before = TO_STANDARD if attempt.by_closing else attempt.tapped
    # So an undo brings back also who gave the level: a tap of its own, or the key that closed the circuit.
    attempt.by_closing = value == TO_STANDARD
    code = scale_of(attempt.lesson).solo if attempt.by_closing else value
    said = step_columns(_find_step(attempt.lesson, code)) if code else {"level": None, "step": ""}
    attempt.level, attempt.step = said["level"], said["step"] or ""
    attempt.save(update_fields=["level", "step", "by_closing"] if attempt.pk else None)
    return EntryChange(before, value)


def _parse_reason(value: str) -> str:
    reason = " ".join(value.split())
    most = Attempt._meta.get_field("kept").max_length or 0
    if len(reason) > most:
        raise Refusal(f"The reason is longer than {most} characters: shorten it.")
    return reason


def _find_step(lesson: Lesson, code: str) -> Step:
    try:
        return scale_of(lesson).step(code)
    except KeyError:
        raise unknown_entry(code) from None


def _write_fault(attempt: Attempt, code: str, value: str) -> EntryChange:
    # Only a fault of this manoeuvre: a code of another one would be evidence against something that was not flown.
    fault = Fault.objects.filter(manoeuvres=attempt.manoeuvre_id, code=code).first()
    if fault is None:
        raise unknown_entry(code)
    seen = FaultSeen.objects.filter(attempt=attempt, fault=fault)
    before = "on" if seen.exists() else ""
    if value == "on" and not before:
        FaultSeen.objects.create(attempt=attempt, fault=fault)
    elif value != "on" and before:
        seen.delete()
    return EntryChange(before, "on" if value == "on" else "")


def _write_criterion(attempt: Attempt, code: str, value: str) -> EntryChange:
    # A measured criterion is judged by its number: tapped as well, the two could contradict each other.
    criterion = Criterion.objects.filter(manoeuvre=attempt.manoeuvre_id, code=code, kind="observed").first()
    if criterion is None or (value and value not in DONE_VALUES):
        raise unknown_entry(f"{code} {value}")
    seen = CriterionSeen.objects.filter(attempt=attempt, criterion=criterion).first()
    before = "" if seen is None else "done" if seen.done else "not_done"
    if value:
        seen = seen or CriterionSeen(attempt=attempt, criterion=criterion)
        seen.done = DONE_VALUES[value]
        seen.save()
    # No row for what was not looked at: that is not “not done”, which caps the level.
    elif seen:
        seen.delete()
    return EntryChange(before, value)


def _write_measure(attempt: Attempt, gate: str, quantity: str, value: str) -> EntryChange:
    """Parse a number in the school's unit, or with its own unit behind it."""
    target = find_target(attempt.lesson, gate, quantity)
    if target is None:
        raise unknown_entry(f"{quantity} at {gate}")
    measure = Measure.objects.filter(attempt=attempt, target=target).first()
    # With its unit: undo must restore the number also where the school has changed its units meanwhile.
    before = measure.entry_text if measure else ""
    if not value.strip():
        if measure:
            measure.delete()
        return EntryChange(before, "")
    # In the unit it was noted in, and converted only when it is compared, so that no number is rounded twice.
    number, unit, uncertainty = _parse_measure(value, target)
    if (
        measure
        and measure.from_track
        and uncertainty is None
        and (measure.value, measure.effective_unit) == (number, unit)
    ):
        # A plain form sends every number that it shows: one from a track stays one.
        return EntryChange(before, before)
    measure = measure or Measure(attempt=attempt, target=target)
    measure.value, measure.unit, measure.uncertainty = number, unit, uncertainty
    measure.save()
    return EntryChange(before, measure.entry_text)


def _parse_measure(value: str, target: GateTarget) -> tuple[Decimal, str, Decimal | None]:
    """Return a number, its unit, and the uncertainty of one from a flight track ('412 ft ±65 from track')."""
    text, _, track = value.strip().partition(" ±")
    uncertainty = _parse_uncertainty(track) if track else None
    number, _, unit = text.partition(" ")
    if not unit:
        school = get_school()
        unit = DisplayUnits(school.speed_unit, school.length_unit).unit_for(target.unit)
    try:
        convert(1, unit, target.unit)
    except ValueError:
        raise ValidationError(f"“{unit[:10]}” is not a unit of {target.quantity}.") from None
    return parse_decimal(number), unit, uncertainty


def _parse_uncertainty(text: str) -> Decimal:
    number = parse_decimal(text.removesuffix(FROM_TRACK).strip())
    if not text.endswith(FROM_TRACK) or number <= 0:
        raise ValidationError(f"“{text[:20]}” is not the uncertainty of a number from a flight track.")
    return number


def find_target(lesson: Lesson, gate: str, quantity: str) -> GateTarget | None:
    """Return the target in force on the day of the lesson for the type flown."""
    if lesson.aircraft is None:
        return None
    # Of the lesson's day and not of today: a day with lessons keeps the gates it was flown under.
    gates = GateSet.objects.in_force(lesson.on).filter(aircraft_type=lesson.aircraft.type_id).first()
    return GateTarget.objects.filter(gate__gate_set=gates, gate__code=gate, quantity=quantity).first()


def _write_grade(lesson: Lesson, code: str, value: str) -> EntryChange:
    manoeuvre = _find_manoeuvre(lesson, code)
    grade = Grade.objects.filter(lesson=lesson, manoeuvre=manoeuvre).first()
    before = (grade.given_step or grade.given) if grade else ""
    if not value:
        if grade:
            grade.delete()
        return EntryChange(before, "")
    # The proposal and its explanation are written beside it when the lesson is signed.
    said = step_columns(_find_step(lesson, value))
    grade = grade or Grade(lesson=lesson, manoeuvre=manoeuvre)
    grade.given, grade.given_step = said["level"], said["step"]
    grade.save()
    return EntryChange(before, value)
