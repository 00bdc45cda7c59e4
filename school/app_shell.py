"""List what a browser stores to open the application without network: the files of its frame and their version."""

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
PAGE_SCRIPTS = Path(settings.BASE_DIR, "grading/static/grading")  # scripts of the pages that open without network
WORKER_FILE = "service-worker.js"
ICON_SIZES = (192, 512)
TEMPLATE_GLOB = "**/*.html"  # a change of one of them makes the stored pages out of date


# Cached without an end: the files of an installation do not change while its processes run.
@lru_cache(maxsize=1)
def shell_files() -> list[str]:
    """Return the names of the frame's static files: styles, scripts, fonts, icons and htmx."""
    kinds = ("*.css", "*.js", "*.svg", "*.png", "fonts/*.woff2")
    # Without the worker's own script, which the browser fetches by itself.
    names = [
        f"{folder.name}/{path.relative_to(folder).as_posix()}"
        for folder in (STATIC_FOLDER, PAGE_SCRIPTS)
        for path in sorted(path for kind in kinds for path in folder.glob(kind))
        if path.name != WORKER_FILE
    ]
    return ["django_htmx/htmx-2.min.js", *names]


@lru_cache(maxsize=1)
def worker_source(start: str) -> str:
    """Return the service worker's script, preceded by the addresses of the frame's files.

    `start` is the page shown without network in place of one that is not stored.
    """
    source = (STATIC_FOLDER / WORKER_FILE).read_text()
    shell = {
        "version": _version(source),
        "start": start,
        "files": [staticfiles_storage.url(name) for name in shell_files()],
    }
    return f"const SHELL = {json.dumps(shell)};\n{source}"


def _version(source: str) -> str:
    # A browser installs a new worker when the bytes of its script differ: any changed file must change this value.
    digest = hashlib.sha256(source.encode())
    for page in sorted((Path(settings.BASE_DIR) / "templates").glob(TEMPLATE_GLOB)):
        digest.update(page.read_bytes())
    for name in shell_files():
        digest.update(Path(str(finders.find(name))).read_bytes())
    return digest.hexdigest()[:16]


def manifest() -> dict[str, Any]:
    """Return the W3C Web Application Manifest: name, icons and the colours of the day display."""
    icons = [
        {"src": staticfiles_storage.url(f"school/icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in ICON_SIZES
    ]
    paper = _paper_colour()
    return {
        # Named, so that with another start_url it stays the same application on devices that have it.
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
    """Return the background colour of the day display, from tokens.css, the one file that names colours."""
    match = re.search(r"--paper:\s*(\S+?);", (STATIC_FOLDER / "tokens.css").read_text())
    assert match is not None
    return match[1]
