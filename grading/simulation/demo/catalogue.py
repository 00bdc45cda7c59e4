"""Read once what a syllabus offers to a simulation of its lessons."""

from collections import defaultdict

from lessons.models import Criterion, Fault, Manoeuvre, Syllabus, Unit, UnitManoeuvre
from lessons.rules.gear import Gear
from school.models import AircraftType


class Catalogue:
    """Units in their order, the manoeuvres each grades, and criteria and faults by the code of their manoeuvre."""

    def __init__(self, syllabus: Syllabus) -> None:
        self.units = list(
            Unit.objects.filter(stage__syllabus=syllabus)
            .select_related("stage__syllabus__scale")
            .order_by("stage__number", "number")
        )
        self.graded_manoeuvres: dict[int, list[UnitManoeuvre]] = defaultdict(list)
        graded = UnitManoeuvre.objects.filter(unit__stage__syllabus=syllabus).select_related("manoeuvre")
        for row in graded.order_by("order"):
            self.graded_manoeuvres[row.unit_id].append(row)
        self.manoeuvres = {row.code: row for row in Manoeuvre.objects.filter(syllabus=syllabus)}
        self.criteria: dict[str, list[Criterion]] = defaultdict(list)
        observed = Criterion.objects.filter(manoeuvre__syllabus=syllabus, kind="observed").select_related("manoeuvre")
        # In a fixed order: a seeded choice must be the same in every build.
        for criterion in observed.order_by("pk"):
            self.criteria[criterion.manoeuvre.code].append(criterion)
        self.measured = list(Criterion.objects.filter(manoeuvre__syllabus=syllabus, kind="measured"))
        self.faults: dict[str, list[Fault]] = defaultdict(list)
        for fault in Fault.objects.filter(syllabus=syllabus).prefetch_related("manoeuvres").order_by("order"):
            for manoeuvre in fault.manoeuvres.all():
                self.faults[manoeuvre.code].append(fault)

    def unit(self, number: int) -> Unit:
        return next(unit for unit in self.units if unit.number == number)

    def criteria_counting_in(self, code: str, unit: int, kind: AircraftType) -> list[Criterion]:
        """Return the criteria of a manoeuvre that count in a unit already and that the type can show."""
        return [row for row in self.criteria[code] if (row.from_unit or 0) <= unit and _fits(row, kind)]

    def faults_on(self, code: str, kind: AircraftType) -> list[Fault]:
        """Return the faults of a manoeuvre that the type can show."""
        return [row for row in self.faults[code] if _fits(row, kind)]


def _fits(row: Criterion | Fault, kind: AircraftType) -> bool:
    return Gear(row.gear).fits(tailwheel=kind.tailwheel, retractable=kind.retractable)
