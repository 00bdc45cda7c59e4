"""Parts of pages that are kept as they were drawn, by everything they rest on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class CachedFragment:
    """A part of a page for `{% kept %}`: what `fill` gives is asked for only where the part is drawn anew.

    `stamp` must be another one as soon as anything that the part shows is; where it is empty nothing is kept.
    """

    stamp: str
    fill: Callable[[], dict[str, Any]]
