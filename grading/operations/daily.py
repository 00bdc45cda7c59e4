"""Do the work of every day; each function returns a sentence about what it did, for the worker's report or cron."""

from datetime import date, datetime, timedelta
from pathlib import Path

from django.conf import settings

from grading.actions.flight_tracks import delete_old_positions
from grading.actions.track_uploads import remove_old_uploads
from grading.evidence import chain, outside_head, register
from grading.evidence.audit.check import run_audit
from grading.operations.backup.create import create_backup, newest_backup_at, remove_older_backups
from grading.operations.backup.passphrase import read_passphrase
from grading.operations.release_mail import remind_of_releases
from grading.operations.reminder_mail import send_reminders
from grading.reading import verdict_cache
from lessons.models import Enrolment
from school.accounts.housekeeping import delete_expired
from school.accounts.waiting import settle_all
from school.models import School

# The machine of a small school is off at night: it is asked each hour, and a backup is due this long after the last.
BACKUP_INTERVAL = timedelta(hours=20)


class RecordsAltered(Exception):
    """A record differs from its seal, or a guard is missing; the text names the first such finding."""


def derive_verdicts(on: date) -> str:
    """Derive and store the verdict of every student in training."""
    enrolments = list(Enrolment.objects.active(on).for_pages().order_by("pk"))
    verdict_cache.derive_and_store(enrolments, on)
    return f"{len(enrolments)} verdicts derived."


def remind_of_expiries(on: date) -> str:
    """Send e-mails about documents and releases that expire; a database without a school has nobody to write to."""
    if not School.objects.exists():
        return "There is no school yet."
    return f"{send_reminders(on)}\n{remind_of_releases(on)}"


def check_records(at: datetime) -> str:
    """Compare every record with its seal and store the outcome; raise RecordsAltered where one differs.

    First facts and journal are sealed up to now; the first time in an installation, as they are found.
    """
    if School.objects.exists():
        register.open_or_catch_up(at)
    check = run_audit(by=None, at=at)
    if check.found:
        # Raised and not returned, so that the job counts as failed.
        raise RecordsAltered(f"{check.findings[0]} ({check.found} in all).")
    if (last := chain.head()) is not None:
        # Written with each seal; here again, for a server that has sealed nothing since it got its file.
        outside_head.record(last)
    return f"{check.seals} seals hold." if check.seals else "Nothing is sealed yet."


def clear_sessions(at: datetime) -> str:
    """Delete expired sessions and expired rate counters, and put into force what has waited in accounts."""
    # Before the reminders of the day, which go to the address in use.
    settle_all(at)
    sessions, counters = delete_expired(at)
    return f"{sessions} sessions and {counters} counters had expired."


def forget_positions(at: datetime) -> str:
    """Delete the positions of flight tracks whose lesson is longer ago than the school keeps them."""
    if not School.objects.exists():
        return "There is no school yet."
    return f"Flight tracks whose positions were deleted: {delete_old_positions(at=at)}."


def clear_track_uploads(at: datetime) -> str:
    """Delete files of flight tracks that nobody confirmed: they show where people were."""
    many = remove_old_uploads(at=at)
    return f"{many} file{'' if many == 1 else 's'} had waited too long."


def back_up(at: datetime) -> str:
    """Write the backup of the day into BACKUP_FOLDER unless there is one, and remove the oldest.

    A database without a school has nothing to lose.
    """
    folder = Path(settings.BACKUP_FOLDER)
    if not School.objects.exists():
        return "There is no school yet."
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    newest = newest_backup_at(folder)
    if newest and at - newest < BACKUP_INTERVAL:
        return "There is one of this day."
    made = create_backup(target=folder, passphrase=read_passphrase(None), with_key=False, at=at)
    remove_older_backups(folder, settings.BACKUPS_KEPT)
    return f"{made.path.name}: {made.bytes / 1e6:.1f} MB."
