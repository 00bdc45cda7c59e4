"""Decide the level as which an attempt counts: one rule for the pad, grades, rows, figures and sheets. Pure.

The level that was tapped is lowered, never raised: by help; by the instructor taking control; by a critical fault; by a
criterion in force that was not done; by a number of that part outside its tolerance. The instructor may keep the
tapped level against a number or a criterion, with a reason that stays on record: what was seen weighs more than one
needle. Help, control and a critical fault are statements of the instructor, who takes them back by taking them back.
"""

from collections.abc import Mapping

from lessons.rules.scale import Ending, Help, Level, Part

# What lowers a level lowers it to Practice: “deviations corrected with coaching”. How far outside, and how often, is
# said but lowers no further: the level of what was unsafe is tapped by the one who saw it.
LOWERED = Level.PRACTICE
# The instructor flew: the student may understand it, and still needed somebody else to carry it out.
TAKEN_OVER = Level.EXPLAIN


def highest_level(help: Help, *, critical: bool, not_done: bool, outside: bool, kept: bool) -> Level:
    """Return the highest level that an attempt may count as."""
    if help is Help.TOOK_CONTROL:
        return TAKEN_OVER
    if help is not Help.NONE or critical or ((not_done or outside) and not kept):
        return LOWERED
    return Level.PERFORM


def counted_level(
    tapped: Level | None, help: Help, *, critical: bool, not_done: bool, outside: bool, kept: bool
) -> Level:
    """Return the level as which an attempt counts; not observed where nobody tapped a level.

    Control that was taken is evidence without a tap.
    """
    highest = highest_level(help, critical=critical, not_done=not_done, outside=outside, kept=kept)
    if tapped is None or tapped is Level.NOT_OBSERVED:
        return highest if help is Help.TOOK_CONTROL else Level.NOT_OBSERVED
    return tapped if tapped.rank <= highest.rank else highest


def part_taken_over(ending: Ending | None, helps: Mapping[Part, Help]) -> Part | None:
    """Return the part that counts as taken over because its circuit ended so, None where a part says it itself.

    helps: the parts that were flown. It is the last of them: with it the circuit ended.
    """
    if ending is not Ending.TOOK_CONTROL or Help.TOOK_CONTROL in helps.values():
        return None
    return next((part for part in reversed(Part) if part in helps), None)
