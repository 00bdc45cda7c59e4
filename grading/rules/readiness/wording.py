"""Hold the small words that verdicts, debriefs and pages share."""


def describe_days_ago(days: int) -> str:
    """Return 'today', 'yesterday' or '9 days ago'."""
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def count_noun(number: int, noun: str) -> str:
    """Return '1 circuit' or '3 approaches'."""
    if number == 1:
        return f"1 {noun}"
    return f"{number} {noun}es" if noun.endswith("ch") else f"{number} {noun}s"
