"""Limit how often one address may ask for what costs much, by counters of a minute in the default cache."""

import hashlib
from datetime import datetime
from ipaddress import ip_address, ip_network

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

COUNTER_SECONDS = 120  # seconds: a minute and the rest of the one before
IPV6_PREFIX_BITS = 64  # bits of an IPv6 address that one household or office shares


def is_over_limit(what: str, request: HttpRequest, most: int, at: datetime) -> bool:
    """Count this request and return whether it exceeds `most` in this minute from its network."""
    # Hashed, because the cache is a table: it need not list who asked for what.
    who = hashlib.sha256(client_bucket(client_address(request)).encode()).hexdigest()[:32]
    key = f"often:{what}:{who}:{int(at.timestamp()) // 60}"
    cache.add(key, 0, COUNTER_SECONDS)
    try:
        return cache.incr(key) > most
    except ValueError:  # it ran out or was pushed out in between: counted anew
        return most < 1


def client_address(request: HttpRequest) -> str:
    """Return the client's address, empty if unknown; behind our proxies the one that the outermost of them saw.

    What stands further left in X-Forwarded-For was written by whoever asks and is not believed.
    """
    named = [part.strip() for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")]
    proxies: int = settings.TRUSTED_PROXIES
    # With fewer entries than proxies the header did not come through all of ours: none of it is believed.
    asked = named[-proxies] if 0 < proxies <= len(named) else ""
    for text in (asked, request.META.get("REMOTE_ADDR", "")):
        try:
            return str(ip_address(text))
        except ValueError:
            continue
    return ""


def client_bucket(address: str) -> str:
    """Return what is counted as one client: an IPv4 address, or the network of an IPv6 address."""
    if address and ip_address(address).version == 6:
        return str(ip_network((address, IPV6_PREFIX_BITS), strict=False))
    return address
