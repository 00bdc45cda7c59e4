"""The one cache of rendered fragments that a process has, keyed by the value that a fragment shows."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Any

import msgspec
from cachetools import RRCache

# Some 3 KB a row of the board, 8 KB a pad, 30 KB a page: this many characters are the rows of 16,000 students.
MAX_CHARACTERS = 48 * 2**20


@dataclass(frozen=True)
class CachedFragment:
    """A part of a page for `{% fragment %}`.

    value: everything that the part shows, as plain values, dataclasses or named tuples; or for a large part the stamp
    of what it shows, which must change whenever that does. Nothing is cached where it is empty. Two kinds of parts
    need a word in their values that tells them apart.
    fill: returns the context of the template; it is called only where the part is rendered.
    """

    value: Any
    fill: Callable[[], dict[str, Any]]


class FragmentCache:
    """Texts by the digest of a value, at most `max_characters` of them altogether."""

    def __init__(self, max_characters: int) -> None:
        # What is replaced is chosen at random. With the least recently used one a board longer than the cache would
        # find none of its rows: each look would replace its first rows by its last ones, and the next look asks for
        # the first ones first.
        self._texts: RRCache[bytes, str] = RRCache(max_characters, getsizeof=len)
        # Held while the cache is read or written and never while a part is rendered: rendering asks the database, and
        # may wait there for somebody who waits for this lock. Two threads may so render the same part at once.
        self._lock = Lock()

    def get_or_render(self, value: Any, render: Callable[[], str]) -> str:
        key = digest(value)
        with self._lock:
            text: str | None = self._texts.get(key)
        if text is None:
            text = render()
            # The cache raises an error for a text larger than itself; such a part is shown all the same.
            if len(text) <= self._texts.maxsize:
                with self._lock:
                    self._texts[key] = text
        return text

    def clear(self) -> None:
        with self._lock:
            self._texts.clear()


def digest(value: Any) -> bytes:
    """Return a short name of a value that no other value has.

    The value itself as the key would take more memory than the text: a row of the board is a hundred small objects.
    """
    # Deterministic: a dict out of the database has its keys in another order than the one that was stored.
    encoded = msgspec.msgpack.encode(value, enc_hook=str, order="deterministic")
    # Long enough that no two values share it: a collision would show one student's part on another's page.
    return hashlib.blake2b(encoded, digest_size=32).digest()


fragments = FragmentCache(MAX_CHARACTERS)
