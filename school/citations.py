"""Cite a paragraph of the law under the rules that have it, and nothing under others."""

from school.current import get_school
from school.models import School


def follows_us_rules() -> bool:
    """Return whether the school follows 14 CFR: its paragraphs are cited and enforced there and nowhere else."""
    return get_school().rule_set == School.RuleSet.US


def cite(paragraph: str) -> str:
    """Return “ (14 CFR 61.87(n))”, with the blank before it, and an empty text under other rules."""
    return f" ({paragraph})" if follows_us_rules() else ""
