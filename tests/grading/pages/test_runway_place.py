"""Where a runway lies, in words and in the pictures of the wind and of a circuit."""

from django.test import Client

from grading.pages.runway_place import RunwayPlace
from lessons.rules.units import DisplayUnits
from school.models import Runway
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson


def test_a_runway_says_where_it_lies(cast: Cast) -> None:
    """By hand: 400 ft are 121.9 m."""
    feet, metric = DisplayUnits(), DisplayUnits("km/h", "m")
    assert RunwayPlace.of(cast.runway).words(feet) == (
        "Runway 18: 180° magnetic; aiming point taken at a sixth of the runway."
    )
    Runway.objects.filter(pk=cast.runway.pk).update(
        threshold_latitude="47.5", threshold_longitude="-8.25", heading_true="181.5", aiming_point_ft=400
    )
    place = RunwayPlace.of(Runway.objects.get(pk=cast.runway.pk))
    where = "Runway 18: 181.5° true, 180° magnetic; threshold 47.5000° N 8.2500° W; aiming point"
    assert place.words(feet) == f"{where} 400 ft past the threshold."
    assert place.words(metric) == f"{where} 122 m past the threshold."


def test_a_place_typed_later_is_drawn_on_the_pages_of_a_signed_lesson(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast, 8)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **{"approach.measure.final.height": "180"})
    sign_lesson(cast, lesson)
    client.force_login(cast.dora)
    address = f"/lessons/{lesson.uid}/circuits/1/"
    before = client.get(address).text
    assert "aiming point taken at a sixth of the runway" in before
    assert ">N</text>" not in before
    Runway.objects.filter(pk=cast.runway.pk).update(heading_true="181.5", aiming_point_ft=400)
    after = client.get(address).text
    assert "181.5° true, 180° magnetic; aiming point 400 ft past the threshold" in after
    assert after.count(">N</text>") == 2  # in the plan, and in that of a telephone
    typed = {"runway": cast.runway.pk, "direction": "110", "reference": "magnetic", "speed": "12"}
    wind = client.get("/me/", typed).text
    assert wind.count(">N</text>") == 1
    assert "181.5° true" in wind
