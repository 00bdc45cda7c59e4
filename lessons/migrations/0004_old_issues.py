"""What was published before scales and legs: graded on the first scale, gates placed on the leg of their phase."""

from typing import Any

from django.db import migrations

LEARNER_CENTRED = {
    "title": "Learner-centred grades",
    "rule": "last_two",
    "solo": "perform",
    "steps": [
        {"code": word, "label": word.capitalize(), "level": word, "meaning": ""}
        for word in ("describe", "explain", "practice", "perform")
    ],
}
LEG_OF_PHASE = {"takeoff": "upwind", "circuit": "downwind", "approach": "base", "landing": "final"}


def fill(apps: Any, schema_editor: Any) -> None:
    syllabuses = apps.get_model("lessons", "Syllabus").objects.filter(scale=None)
    if syllabuses.exists():
        scale, _ = apps.get_model("lessons", "GradeScale").objects.get_or_create(
            code="learner-centred", issue=1, defaults=LEARNER_CENTRED
        )
        syllabuses.update(scale=scale)
    gates = apps.get_model("lessons", "Gate").objects
    for phase, leg in LEG_OF_PHASE.items():
        gates.filter(phase=phase).update(leg=leg)
    apps.get_model("lessons", "GateSet").objects.update(published=True)


class Migration(migrations.Migration):
    dependencies = [("lessons", "0003_full_grading")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
