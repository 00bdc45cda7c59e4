"""Which landing gear shows what: 14 CFR 61.31(i) trains tailwheel types apart. The rest is common practice."""

import pytest

from lessons.rules.gear import Gear


@pytest.mark.parametrize(
    ("gear", "shown"),
    [
        (Gear.ANY, "tailwheel fixed, tailwheel retractable, nosewheel fixed, nosewheel retractable"),
        (Gear.TAILWHEEL, "tailwheel fixed, tailwheel retractable"),
        (Gear.NOSEWHEEL, "nosewheel fixed, nosewheel retractable"),
        (Gear.RETRACTABLE, "tailwheel retractable, nosewheel retractable"),
    ],
)
def test_a_gear_fits_the_types_that_have_it(gear: Gear, shown: str) -> None:
    fitting = [
        f"{'tailwheel' if tailwheel else 'nosewheel'} {'retractable' if retractable else 'fixed'}"
        for tailwheel in (True, False)
        for retractable in (False, True)
        if gear.fits(tailwheel=tailwheel, retractable=retractable)
    ]
    assert ", ".join(fitting) == shown


def test_every_gear_has_a_label() -> None:
    assert [gear.label for gear in Gear] == [
        "every type",
        "tailwheel types only",
        "nosewheel types only",
        "retractable types only",
    ]
