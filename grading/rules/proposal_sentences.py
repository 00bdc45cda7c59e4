"""Word why an attempt or a lesson is proposed at its level: a key and values come in, whole sentences go out. Pure."""

from datetime import date

from grading.rules.gate_words import amount_with_side
from grading.rules.said import Said, Sentences, Writers, write

SENTENCES: Sentences = {
    "not_observed": "Not observed.",
    "not_observed_in_lesson": "Not observed in this lesson.",
    "as_tapped": "{step}: as tapped.",
    "as_tapped_lower_of_two": "{step}: as tapped (the lower of the last two).",
    "as_tapped_weakest": "{step}: as tapped (the weakest of {attempts}).",
    "control_taken": "{step}: the instructor took control, no level was tapped.",
    "control_taken_lower_of_two": (
        "{step}: the instructor took control, no level was tapped (the lower of the last two)."
    ),
    "control_taken_weakest": ("{step}: the instructor took control, no level was tapped (the weakest of {attempts})."),
    "lowered": "{step}: {reasons}.",
    "lowered_lower_of_two": "{step}: {reasons} (the lower of the last two).",
    "lowered_weakest": "{step}: {reasons} (the weakest of {attempts}).",
    "kept": "{step}: kept as tapped ({kept}), though {reasons}.",
    "kept_lower_of_two": "{step}: kept as tapped ({kept}), though {reasons} (the lower of the last two).",
    "kept_weakest": "{step}: kept as tapped ({kept}), though {reasons} (the weakest of {attempts}).",
    # Reasons, of which a sentence above names one or several; the helps by their own codes.
    "prompted": "with a prompt",
    "assisted": "with assistance",
    "took_control": "the instructor took control",
    "critical_fault": "{fault}, a critical fault",
    "not_done": "not done: {criterion}",
    "on_target": "{quantity} {gate} on target",
    "inside": "{quantity} {gate} {offset}, inside",
    "beyond": "{quantity} {gate} {offset}, outside, within twice the tolerance",
    "far_beyond": "{quantity} {gate} {offset}, outside, more than twice the tolerance",
    "no_tolerance": "{quantity} {gate} {offset}, outside, no tolerance on this side",
}


def _small(text: str) -> str:
    """Return a text with a small first letter; an abbreviation stays as it is."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


WRITERS: Writers = {
    "fault": _small,
    "criterion": _small,
    "offset": lambda values: amount_with_side(*values[:3], over=values[3]),
}


def say(what: Said) -> str:
    """Return what is said in words, at the moment it is shown or sealed."""
    return write(what, SENTENCES, WRITERS, date.isoformat)
