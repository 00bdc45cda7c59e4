"""Read which findings somebody marked as done, and why."""

from collections.abc import Iterable

from grading.models import SettledFinding
from grading.rules.inspection import Finding


def read_settled(findings: Iterable[Finding]) -> dict[str, SettledFinding]:
    """Return what settled these findings, by the fingerprint of each that is settled. One query."""
    asked = [finding.fingerprint for finding in findings]
    rows = SettledFinding.objects.filter(reopened_at=None, facts__in=asked).select_related("settled_by")
    return {row.facts: row for row in rows}


def leave_out_settled(findings: Iterable[Finding]) -> list[Finding]:
    """Return the findings that nobody marked as done. One query."""
    findings = list(findings)
    settled = read_settled(findings)
    return [finding for finding in findings if finding.fingerprint not in settled]
