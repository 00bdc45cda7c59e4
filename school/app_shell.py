"""What a browser keeps to open the application without network: the files of its frame, and their version."""

import hashlib
import json
import re
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage

STATIC_FOLDER = Path(settings.BASE_DIR, "school/static/school")
PAGE_SCRIPTS = Path(settings.BASE_DIR, "grading/static/grading")  # of the pages that open without network
WORKER_FILE = "service-worker.js"
ICON_SIZES = (192, 512)
TEMPLATE_GLOB = "**/*.html"  # a page kept for no network is made of them


@lru_cache(maxsize=1)
def shell_files() -> list[str]:
    """Names of the static files of the frame: styles, scripts, fonts, icons, and the library for swaps."""
    kinds = ("*.css", "*.js", "*.svg", "*.png", "fonts/*.woff2")
    ours = [
        f"{folder.name}/{path.relative_to(folder).as_posix()}"
        for folder in (STATIC_FOLDER, PAGE_SCRIPTS)
        for path in sorted(path for kind in kinds for path in folder.glob(kind))
        if path.name != WORKER_FILE
    ]
    return ["django_htmx/htmx-2.min.js", *ours]


@lru_cache(maxsize=1)
def worker_source(start: str) -> str:
    """The service worker with the addresses of the frame in front; it changes whenever one of the files does.

    `start` is the page shown without network in place of one that is not kept.
    """
    source = (STATIC_FOLDER / WORKER_FILE).read_text()
    shell = {
        "version": _version(source),
        "start": start,
        "files": [staticfiles_storage.url(name) for name in shell_files()],
    }
    return f"const SHELL = {json.dumps(shell)};\n{source}"


def _version(source: str) -> str:
    digest = hashlib.sha256(source.encode())
    for page in sorted((Path(settings.BASE_DIR) / "templates").glob(TEMPLATE_GLOB)):
        digest.update(page.read_bytes())
    for name in shell_files():
        digest.update(Path(str(finders.find(name))).read_bytes())
    return digest.hexdigest()[:16]


def manifest() -> dict[str, Any]:
    """The web application manifest (W3C Web Application Manifest): name, icons, colours of the day's light."""
    icons = [
        {"src": staticfiles_storage.url(f"school/icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in ICON_SIZES
    ]
    paper = _paper_colour()
    return {
        "id": "/",
        "name": "Training record",
        "short_name": "Record",
        "description": "Flight lessons graded beside the aircraft, with or without network.",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": paper,
        "theme_color": paper,
        "icons": [*icons, {**icons[-1], "purpose": "maskable"}],
    }


def _paper_colour() -> str:
    """The ground of the day's light, from the one place that names a colour."""
    found = re.search(r"--paper:\s*(\S+?);", (STATIC_FOLDER / "tokens.css").read_text())
    assert found is not None
    return found[1]
