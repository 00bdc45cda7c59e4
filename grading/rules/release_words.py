"""Word the limits of a release for solo: the same on pages, in the form before it is signed, and on paper. Pure."""

from decimal import Decimal

from school.formats import write_list, write_visibility


def limits_words(
    *, runways: str, wind_kt: int, crosswind_kt: int, visibility_sm: Decimal, ceiling_ft: int, metric: bool
) -> str:
    """Return the limits, as "runway 07, wind up to 12 kt, crosswind up to 5 kt, visibility at least 5 SM, …".

    metric: kilometres before the statute miles that were signed.
    """
    visibility = write_visibility(visibility_sm, metric=metric)
    return (
        f"{runway_words(runways)}, wind up to {wind_kt} kt, crosswind up to {crosswind_kt} kt,"
        f" visibility at least {visibility}, cloud base at least {ceiling_ft:,} ft"
    )


def runway_words(runways: str) -> str:
    """Return "runways 07 and 25", or "runway 07", of designators with commas or blanks between them."""
    designators = runways.replace(",", " ").split()
    return f"runway{'' if len(designators) == 1 else 's'} {write_list(designators)}"
