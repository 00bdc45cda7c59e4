from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from school.errors import Refusal
from school.signing_keys import school_key


class Command(BaseCommand):
    help = "Print the certificate that printed sheets are signed with, as PEM, for anyone who checks them."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            key = school_key(timezone.now())
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"SHA-256 {key.fingerprint}\n{key.pem}", ending="")
