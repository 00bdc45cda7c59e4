"""The table of a standard: parts grouped by rule, computed once."""

from grading.rules.operating.characteristic import CIRCUITS, HORIZON, SHARES, characteristic_of
from grading.rules.operating.exact import plan_lessons, shown_by_then
from grading.rules.readiness.success_rules import Row, Share


def test_the_parts_are_grouped_by_rule_and_each_is_exact() -> None:
    nine = Share(9, 10, 2)
    table = characteristic_of({"takeoff": nine, "approach": Row(3, 2), "landing": nine}, 4)
    assert [(group.parts, group.rule) for group in table.groups] == [
        (("takeoff", "landing"), nine),
        (("approach",), Row(3, 2)),
    ]
    for share, shown in zip(SHARES, table.groups[0].shown, strict=True):
        assert shown == shown_by_then(nine, share, plan_lessons(HORIZON, 4))
    for alone, together in zip(table.groups[0].shown, table.together, strict=True):
        for circuits in CIRCUITS:
            assert together.within(circuits) <= alone.within(circuits) + table.error
    assert 0 < table.error <= 0.01


def test_the_same_rules_cost_once() -> None:
    rules = {"takeoff": Row(4, 2), "landing": Share(8, 9, 2)}
    assert characteristic_of(rules, 3) is characteristic_of(dict(rules), 3)
    assert characteristic_of(rules, 3) is not characteristic_of(rules, 5)


def test_a_standard_without_such_a_requirement_has_no_table() -> None:
    table = characteristic_of({}, 4)
    assert (table.groups, table.together, table.error) == ((), (), 0)
