"""Cite a paragraph of the law under the rules that have it, and nothing under others."""

import re

from school.current import get_school
from school.models import School


def follows_us_rules() -> bool:
    """Return whether the school follows 14 CFR: its paragraphs are cited and enforced there and nowhere else."""
    return get_school().rule_set == School.RuleSet.US


# A paragraph of 14 or 49 CFR, with its title or by its number alone.
US_PARAGRAPH = re.compile(r"\bCFR\b|\b(61|91|141)\.[0-9]")


def own_law(text: str) -> str:
    """Return a text that was typed or published, without the clauses that name 14 or 49 CFR under other rules.

    Clauses end at a comma or a semicolon. Empty where nothing is left.
    """
    if not US_PARAGRAPH.search(text) or follows_us_rules():
        return text
    return ", ".join(clause for clause in re.split(r"[,;] ", text) if not US_PARAGRAPH.search(clause))


def cite(paragraph: str) -> str:
    """Return “ (14 CFR 61.87(n))”, with the blank before it, and an empty text under other rules."""
    return f" ({paragraph})" if follows_us_rules() else ""
