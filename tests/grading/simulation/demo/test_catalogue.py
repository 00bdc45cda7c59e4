"""The invented flying shows only what its type can show. The project's own rule."""

from grading.simulation.demo.catalogue import Catalogue
from grading.simulation.demo.demo_school import FIXTURES
from lessons.loading import load_aircraft_type
from tests.cast import Cast


def test_faults_and_criteria_are_those_of_the_type(cast: Cast) -> None:
    catalogue = Catalogue(cast.enrolment.syllabus)
    nose = load_aircraft_type(FIXTURES / "aircraft/nosewheel.json")
    faults = [{row.code for row in catalogue.faults_on("landing", kind)} for kind in (cast.type, nose)]
    assert "nosewheel-first" in faults[1] - faults[0]
    assert "tailwheel-unlocked" in faults[0] - faults[1]
    criteria = [{row.code for row in catalogue.criteria_counting_in("takeoff", 14, kind)} for kind in (cast.type, nose)]
    assert criteria[0] - criteria[1] == {"tailwheel-lock", "tail", "climb-first"}
    assert criteria[1] - criteria[0] == {"nose"}


def test_the_downwind_leg_has_faults_and_criteria_to_show(cast: Cast) -> None:
    catalogue = Catalogue(cast.enrolment.syllabus)
    assert len(catalogue.faults["downwind"]) >= 8
    assert len(catalogue.criteria["downwind"]) >= 6
