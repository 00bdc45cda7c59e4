"""Read the passphrase of backups from a file or the environment; other users could list a command line."""

from pathlib import Path

from django.conf import settings

from grading.operations.backup.container import MIN_PASSPHRASE_LENGTH
from school.errors import Refusal

PASSPHRASE_FILE_HELP = (
    f"a file with nothing but the passphrase in it, {MIN_PASSPHRASE_LENGTH} characters or more; line breaks at its"
    " beginning and end do not belong to it. Without this option BACKUP_PASSPHRASE_FILE names the file, or"
    " BACKUP_PASSPHRASE holds the passphrase"
)


def read_passphrase(file: Path | None) -> str | None:
    """Return the passphrase of the file, of BACKUP_PASSPHRASE_FILE or of BACKUP_PASSPHRASE; None where none is set."""
    named = file or (Path(settings.BACKUP_PASSPHRASE_FILE) if settings.BACKUP_PASSPHRASE_FILE else None)
    if named is not None:
        try:
            found = named.read_text().strip("\r\n")
        except OSError as failed:
            raise Refusal(f"The passphrase cannot be read: {named}, {failed.strerror}.") from failed
    elif settings.BACKUP_PASSPHRASE:
        found = settings.BACKUP_PASSPHRASE
    else:
        return None
    if len(found) < MIN_PASSPHRASE_LENGTH:
        raise Refusal(f"The passphrase has {len(found)} characters: {MIN_PASSPHRASE_LENGTH} at least.")
    return found
