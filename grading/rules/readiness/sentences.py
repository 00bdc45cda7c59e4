"""Word what a verdict says: each check gives a key and values, and this is the one place that has sentences. Pure.

How far a requirement is follows its title and a colon, so it begins small; what would meet it is a sentence of its own.
"""

from typing import Any

from grading.rules.gate_words import amount_with_side
from grading.rules.readiness.dates import long_date
from grading.rules.readiness.training_items import describe_item
from grading.rules.readiness.wording import describe_days_ago
from grading.rules.said import Said, Sentences, Writers, said, write

SENTENCES: Sentences = {
    # The verdict as a whole.
    "requirement": "{title}: {far}",
    "fixed_by_law": "{far} (required by law: it cannot be set aside)",
    "set_aside": "Set aside by {by}: {reason}",
    "open": ("{count} of {total} requirements is open", "{count} of {total} requirements are open"),
    "all_met": "all {total} requirements are met",
    "all_met_since": "all {total} requirements are met since {since}",
    "all_met_or_set_aside": "all {total} requirements are met or set aside",
    "all_met_or_set_aside_since": "all {total} requirements are met or set aside since {since}",
    "ready": "{far}.",
    "not_ready": "Not ready for first solo yet: {far}.",
    # Where something was flown.
    "flown_in_circuit": "lesson {lesson}, circuit {circuit}, {on}",
    "flown_in_lesson": "lesson {lesson}, {on}",
    "flown_before": "lesson brought forward, given by {instructor}, {on}",
    "from": "from: {place}",
    "to": "to: {place}",
    "missed": "not to standard: {place}",
    "with": "with {instructor}: {place}",
    "flown_with": "flown with {instructor}: {place}",
    "shown": "{manoeuvre}: {place}",
    "fault": "{fault}: {place}",
    "gate": "{gate}: {place}",
    "gate_outside": "{gate} outside: {place}",
    "gate_not_certain": "{gate} not certainly inside, from a track: {place}",
    "item": "{item}: {place}",
    "item_in_similar_type": "{item}, in the similar type {aircraft_type}: {place}",
    # Documents, age and the knowledge test.
    "no_document": "no document on record",
    "add_document": "Add the document.",
    "renew_document": "Renew the document and add the new one.",
    "on_record": "on record",
    "issued": "issued {on}",
    "expired": "expired on {ended}",
    "no_birth": "no date of birth on record",
    "record_birth": "Record the date of birth.",
    "born": "born {on}",
    "age_since": "{years} since {reached}",
    "age_from": "{years} on {reached}",
    "wait_until": "Wait until {reached}.",
    "no_medical": "no medical on record",
    "record_medical": "Record the medical.",
    "record_medical_or_judge": (
        "Record the medical. A person must judge whether another way of 14 CFR 61.23(c) applies."
    ),
    "no_expiry_date": "no expiry date on record",
    "record_expiry_date": "Record the expiry date.",
    "expiry_needs_birth": "the expiry date depends on the age, and no date of birth is on record",
    "examined": "examined {on}, class {medical_class}",
    "until": "until {ends}",
    "new_medical": "No solo until a new medical is on record.",
    "new_medical_or_judge": (
        "No solo until a new medical is on record. A person must judge whether another way of 14 CFR 61.23(c) applies."
    ),
    "test_not_taken": "not taken for this type",
    "take_test": "Take the pre-solo knowledge test for this type.",
    "test_taken": "taken {on}, {wrong} wrong, given by {by}",
    "answers_not_reviewed": ("{count} wrong answer not reviewed", "{count} wrong answers not reviewed"),
    "review_answers": "Review every wrong answer with the student.",
    "topics_tested": "{done} of {needed} topics",
    "test_topics": "Still to be tested: {topics}.",
    "test_reviewed": "taken and reviewed",
    # Training and endorsements.
    "logged": "{done} of {needed} logged",
    "logged_by_older_syllabus": (
        "{done} of {needed} logged, {count} by a whole item of an older syllabus",
        "{done} of {needed} logged, {count} by whole items of an older syllabus",
    ),
    "teach_items": "Still to be taught in flight and logged: {items}.",
    "teach_manoeuvres": "Still to be taught in flight and logged: {manoeuvres}.",
    "features_not_recorded": "its flaps, gear and propeller not recorded",
    "record_features": "Record its flaps, gear and propeller for the type, from its flight manual.",
    "horsepower_not_recorded": "its horsepower not recorded",
    "record_horsepower": "Record its horsepower for the type, from its flight manual.",
    "not_endorsed": "not endorsed",
    "train_and_endorse": "Training in such an aircraft logged, proficiency seen, then the endorsement given.",
    "endorsed_by": "endorsed {on} by {by}",
    "endorsed": "endorsed {on}",
    "endorsed_untrained": "endorsed {on}, before any training in such an aircraft was logged",
    "log_and_endorse": "Log the training, then endorse again.",
    # How well it is flown.
    "in_a_row": "{done} in a row",
    "so_far": "{done} of {flown} so far",
    "of_the_last": "{done} of the last {last}",
    "of_needed": "{done} of {needed}",
    "with_brought": "{far}, {brought} brought forward",
    "brought_forward": (
        "{brought} of {judged} brought forward from {count} earlier lesson, by decision of {by}, {on}: {reason}",
        "{brought} of {judged} brought forward from {count} earlier lessons, by decision of {by}, {on}: {reason}",
    ),
    "more_required": "{far}, {last} needed",
    "newest_not": "{far}, the newest not",
    "in_one_lesson": "{far}, but all in one lesson",
    "in_few_lessons": "{far}, but over {lessons} of {needed} lessons",
    "more_takeoff": ("{count} more takeoff", "{count} more takeoffs"),
    "more_downwind": ("{count} more downwind", "{count} more downwinds"),
    "more_approach": ("{count} more approach", "{count} more approaches"),
    "more_landing": ("{count} more landing", "{count} more landings"),
    "fly_in_a_row": "{attempts} in a row to standard, without help.",
    "fly_in_a_row_in_another_lesson": "{attempts} in a row to standard, without help, in another lesson.",
    "fly": "At least {attempts} to standard, without help.",
    "fly_in_another_lesson": "At least {attempts} to standard, without help, in another lesson.",
    "not_shown": "not shown yet",
    "show_once": "Show it once, to standard, without help.",
    "is_shown": "shown",
    "bring_to_standard": "To standard, without help: {manoeuvres}.",
    "control_not_taken": ("none in the last {count} circuit", "none in the last {count} circuits"),
    "control_taken": ("{taken} in the last {count} circuit", "{taken} in the last {count} circuits"),
    "control_not_taken_so_far": "none in {flown} of {needed} circuits flown so far",
    "no_circuit": "no circuit flown yet",
    "fly_without_control_taken": (
        "At least {count} more circuit without the instructor taking control.",
        "At least {count} more circuits without the instructor taking control.",
    ),
    "nothing_flown": "nothing flown yet",
    "fly_and_be_graded": "Fly and be graded.",
    "no_open_fault": "none open",
    "open_faults": "{faults}",
    "open_fault": "{fault} ({done} of {needed} attempts without it since)",
    "fly_without_fault": ("{count} attempt without it.", "{count} attempts without it."),
    "checked_with": "flown with {instructor}",
    "check_not_to_standard": "flown, but not all to standard",
    "check_again": "Fly the stage check again.",
    "check_not_flown": "not flown",
    "fly_check": "Fly a stage check with another instructor.",
    # Numbers at the gates.
    "gates": "{gates}",
    "gate_inside": "{gate} {inside} of the last {last} inside",
    "gate_noted": "{gate} {noted} of {needed} noted",
    "gate_likely": "{gate} {percent} %, {bias}",
    "gates_judged": "{done} of {needed} gates judged",
    "fly_gates_inside": (
        "Fly these gates more accurately, and note them: {good} of the last {last} values must be inside."
    ),
    "fly_gates_likely": (
        "Fly these gates more accurately: the next value must be at least {percent} % likely to be inside."
    ),
    "note_gates": "Note the values at these gates.",
    "on_target": "on target on average",
    "off_target": "{offset} on average",
    # How long ago.
    "last": "last {days_ago}",
    "last_counted_until": "last {days_ago}, counted until {ended}",
    "no_training_in_type": "no training in this type yet",
    "train_in_type": "Dual training in this type.",
    "no_circuit_to_standard": "no circuit to standard yet",
    "fly_circuit_to_standard": "One circuit with every part to standard.",
}


def _spaced(code: str) -> str:
    return code.replace("_", " ").replace("-", " ").replace(".", " ")


def _each(write_one: Any) -> Any:
    return lambda codes: ", ".join(map(write_one, codes))


WRITERS: Writers = {
    "manoeuvre": _spaced,
    "manoeuvres": _each(_spaced),
    "topics": _each(_spaced),
    "gate": _spaced,
    "item": describe_item,
    "items": _each(describe_item),
    "days_ago": describe_days_ago,
    "offset": lambda values: amount_with_side(*values[:3], over=values[3]),
}


def say(what: Said) -> str:
    """Return what is said in words, at the moment it is shown."""
    return write(what, SENTENCES, WRITERS, long_date)


def say_first(what: Said) -> str:
    """Return the same as the beginning of a sentence."""
    return capital(say(what))


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]


__all__ = ["SENTENCES", "Said", "capital", "said", "say", "say_first"]
