"""Documents of the aircraft of the demo school: most in force, one expired, one about to expire."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

from school import fleet
from school.models import Aircraft, Person

# Of each aircraft: kind, days since it was issued, days until it expires (None: no last day), hours at which it is due.
IN_FORCE = (
    ("registration", 700, 1000, None),
    ("airworthiness", 700, None, None),
    ("annual", 170, 195, None),
    ("hundred_hour", 24, None, "2412.5"),
    ("transponder", 300, 430, None),
    ("insurance", 90, 275, None),
)
EXPIRED = {"QQ-TPD": ("transponder", 733, -3, None)}
ABOUT_TO_EXPIRE = {"QQ-TPB": ("insurance", 360, 5, None)}


def add_aircraft_papers(admin: Person, begun: date, today: date) -> None:
    """Record the documents of every aircraft; `begun`: the day from which anything is on record."""
    for aircraft in Aircraft.objects.order_by("registration"):
        special = [rows[aircraft.registration] for rows in (EXPIRED, ABOUT_TO_EXPIRE) if aircraft.registration in rows]
        kinds = {row[0] for row in special}
        for kind, since, left, hours in (*(row for row in IN_FORCE if row[0] not in kinds), *special):
            issued = today - timedelta(days=since)
            fleet.record_aircraft_paper(
                aircraft=aircraft,
                kind=kind,
                issued=issued,
                number=f"{kind[:2].upper()}-{aircraft.registration[-3:]}",
                expires=None if left is None else today + timedelta(days=left),
                due_at_hours=None if hours is None else Decimal(hours),
                by=admin,
                at=datetime.combine(max(issued, begun), time(9), UTC),
            )
