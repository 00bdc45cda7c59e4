from typing import ClassVar, Self

from django.db import models


class SigningCertificateQuerySet(models.QuerySet["SigningCertificate"]):
    def newest_first(self) -> Self:
        return self.order_by("-pk")


class SigningCertificate(models.Model):
    """A certificate the school has signed with. It is never changed or deleted, so that old sheets can be verified."""

    fingerprint = models.CharField("SHA-256 of the certificate, in hex", max_length=64, unique=True)
    # Whole, because verifying a signature needs the public key in it and not only its fingerprint.
    pem = models.TextField()
    demonstration = models.BooleanField()
    first_used_at = models.DateTimeField()

    objects = SigningCertificateQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.CheckConstraint(condition=~models.Q(pem=""), name="signingcertificate_pem")
        ]

    def __str__(self) -> str:
        return f"Signing certificate {self.fingerprint[:12]}"
