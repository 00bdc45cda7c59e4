"""The suite polices the project: shape, imports, models, templates, migrations, deployment."""

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import models

ROOT: Path = settings.BASE_DIR
TOP = {
    "README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml",
    "school", "lessons", "grading", "templates", "tests", "fixtures",
}  # fmt: skip
OURS = ("school", "lessons", "grading")


def run_command(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*command], cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, **environment}
    )


def tracked_files() -> list[str]:
    return run_command("git", "ls-files", "--cached", "--others", "--exclude-standard").stdout.split()


def test_the_top_level_is_exactly_the_house() -> None:
    found = {name.split("/")[0] for name in tracked_files()}
    assert {name for name in found if not name.startswith(".")} == TOP


def files_that_say(pattern: re.Pattern[str], root: Path, names: list[str]) -> list[str]:
    return [name for name in names if pattern.search((root / name).read_text(errors="replace"))]


# The trade says "final". Written with a class of characters, so that this file does not contain the word itself.
OLD_WORD_FOR_FINAL = re.compile("landing[- _\\n]line", re.IGNORECASE)


def test_final_has_one_name() -> None:
    names = [name for name in tracked_files() if (ROOT / name).is_file()]
    assert len(names) > 500
    assert files_that_say(OLD_WORD_FOR_FINAL, ROOT, names) == []


@pytest.mark.parametrize("between", [" ", "-", "_", "\n"])
def test_another_name_for_final_is_found(tmp_path: Path, between: str) -> None:
    (tmp_path / "gates.json").write_text(f"Speed on the Landing{between}line")
    (tmp_path / "other.json").write_text("A landing in line with the runway")
    assert files_that_say(OLD_WORD_FOR_FINAL, tmp_path, ["gates.json", "other.json"]) == ["gates.json"]


def test_imports_point_down() -> None:
    done = run_command(str(Path(sys.executable).parent / "lint-imports"), "--no-cache")
    assert done.returncode == 0, done.stdout


def test_the_rules_load_no_django() -> None:
    names = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for folder in ("lessons/rules", "grading/rules")
        for path in (ROOT / folder).rglob("*.py")
    ]
    assert len(names) > 30
    code = f"import sys, {', '.join(names)}; sys.exit('django' in sys.modules)"
    assert run_command(sys.executable, "-c", code).returncode == 0


def our_models() -> list[type[models.Model]]:
    return [model for name in OURS for model in apps.get_app_config(name).get_models()]


def test_no_app_reaches_upwards_through_a_foreign_key() -> None:
    upward = [
        f"{model.__name__}.{field.name}"
        for model in our_models()
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
        and field.related_model._meta.app_label != model._meta.app_label
        and not field.remote_field.hidden
    ]
    assert upward == []


def test_no_model_sorts_behind_the_back_of_its_query() -> None:
    assert [model for model in our_models() if model._meta.ordering] == []


# A moment that always has its person, or whose person stands in another column, needs no pair.
UNPAIRED = {
    "JournalEntry.at", "Tap.at", "Seal.sealed_at", "Signature.signed_at", "SigningCertificate.first_used_at",
    "Invitation.accepted_at", "OwnView.written_at", "FlightTrack.first_at", "FlightTrack.last_at",
    "TrackUpload.read_at", "Release.withdrawal_read_at",
}  # fmt: skip


def test_every_moment_that_may_be_empty_is_paired_with_its_person() -> None:
    wrong = []
    for model in our_models():
        fields = {field.name: field for field in model._meta.fields}
        for name, field in fields.items():
            if not name.endswith("_at") or f"{model.__name__}.{name}" in UNPAIRED:
                continue
            person = fields.get(name[:-3] + "_by")
            if person is None or person.null != field.null:
                wrong.append(f"{model.__name__}.{name}")
            elif field.null and not any(name in repr(c) for c in model._meta.constraints):
                wrong.append(f"{model.__name__}.{name} has no constraint")
    assert wrong == []


def templates() -> list[Path]:
    return sorted((ROOT / "templates").rglob("*.html"))


def test_every_template_is_used() -> None:
    sources = [*templates(), *(path for name in OURS for path in (ROOT / name).rglob("*.py"))]
    text = "\n".join(path.read_text() for path in sources)
    known = {"400.html", "403.html", "404.html", "429.html", "500.html"}
    names = {str(path.relative_to(ROOT / "templates")) for path in templates()} - known
    allauth = Path(apps.get_app_config("allauth").path) / "templates"
    names -= {name for name in names if (allauth / name).exists()}  # those stand in place of its own
    assert {name for name in names if f'"{name}' not in text} == set()


# A page without a view of its own name, and why.
OTHER_NAMES = {
    "base", "400", "403", "404", "409", "413", "429", "500", "503", "503_busy", "403_csrf",  # frame, refusals by status
    "lesson_record",  # the other face of the view `lesson`, once it is signed
}  # fmt: skip


def views() -> set[str]:
    found = [path for name in OURS for path in (ROOT / name).rglob("views*/*.py")]
    found += [ROOT / name / "views.py" for name in OURS if (ROOT / name / "views.py").exists()]
    bodies = [ast.parse(path.read_text()).body for path in found]
    return {node.name for body in bodies for node in body if isinstance(node, ast.FunctionDef)}


def test_a_view_carries_the_name_of_its_template() -> None:
    folders = {ROOT / "templates", *(ROOT / "templates" / name for name in OURS)}
    pages = {path.stem for path in templates() if path.parent in folders and not path.stem.startswith("_")}
    assert pages - views() - OTHER_NAMES == set()


@pytest.mark.parametrize("path", templates(), ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_templates_hold_no_script_style_or_colour(path: Path) -> None:
    text = path.read_text()
    assert not re.search(r"\sstyle=|\son[a-z]+=|<style|<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"(?<![&\w/\"'])#[0-9a-fA-F]{3,6}\b|rgb\(", text)
    visible = re.sub(r"<!DOCTYPE html>|{%.*?%}|{{.*?}}", "", text)
    assert "!" not in re.sub(r"<[^>]*>", "", visible)
    assert "successfully" not in text.lower()


INCLUDE = re.compile(r"{%\s*include\s+[\"']([^\"']+)[\"']([^%]*)%}")


def forms_without_token(texts: dict[str, str]) -> list[str]:
    """Templates that include one with a form, "only" with what they name, and do not name the form's token.

    Django then writes an empty token without a word, and every use of the form is refused.
    """
    included = {name: INCLUDE.findall(text) for name, text in texts.items()}
    asks = {name for name, text in texts.items() if "{% csrf_token %}" in text}
    while more := {name for name, parts in included.items() if any(part in asks for part, _ in parts)} - asks:
        asks |= more
    return [
        f"{name}: {part}"
        for name, parts in included.items()
        for part, words in parts
        if part in asks and words.split()[-1:] == ["only"] and "csrf_token=" not in words
    ]


def test_an_included_form_is_given_its_token() -> None:
    texts = {str(path.relative_to(ROOT / "templates")): path.read_text() for path in templates()}
    assert sum(len(INCLUDE.findall(text)) for text in texts.values()) > 300
    assert forms_without_token(texts) == []


def test_a_form_that_would_miss_its_token_is_found() -> None:
    texts = {
        "page.html": '{% include "part.html" with a=b only %}{% include "part.html" with csrf_token=csrf_token only %}',
        "part.html": "{% include 'form.html' %}",
        "form.html": "<form>{% csrf_token %}</form>",
    }
    assert forms_without_token(texts) == ["page.html: part.html"]


COLOUR = re.compile(r"#[0-9a-fA-F]{3,8}\b(?!;)|\b(rgba?|hsla?|hwb|oklch|oklab|lab|lch)\(|[:\s](white|black|red)\s*[;}]")


def test_only_the_tokens_name_a_colour() -> None:
    sheets = [path for path in (ROOT / "school/static/school").glob("*.css") if path.name != "tokens.css"]
    drawings = [*(ROOT / "school/marks").rglob("*.py"), *ROOT.glob("*/static/*/*.js")]
    assert sheets
    assert drawings
    assert {str(path): found[0] for path in sheets + drawings if (found := COLOUR.search(path.read_text()))} == {}


def test_nothing_is_left_to_do_in_any_file() -> None:
    marks = re.compile("TO" + r"DO\b|FIX" + r"ME\b|pytest\.mark\.sk" + "ip|NotImplemented" + "Error")
    text = {".py", ".html", ".css", ".js", ".md", ".toml", ".json", ""}
    files = [ROOT / name for name in tracked_files() if Path(name).suffix in text]
    assert [path for path in files if path.is_file() and marks.search(path.read_text())] == []


def test_no_registry_host_in_any_file() -> None:
    hosts = ["py" + "pi.org", "python" + "hosted", "registry." + "npmjs", "deb." + "debian.org"]
    for name in tracked_files():
        path = ROOT / name
        if path.is_file() and path.suffix not in {".woff2", ".png", ".xz"}:
            assert not [host for host in hosts if host in path.read_text()], name


@pytest.mark.django_db
def test_no_migration_is_pending() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_ready_to_deploy() -> None:
    done = run_command(
        sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING",
        DJANGO_SETTINGS_MODULE="school.settings",
        DATABASE_URL="postgres://nobody@127.0.0.1/none",
        SECRET_KEY="a-long-secret-of-this-test-only-0123456789-abcdefghijklmnopq",
        ALLOWED_HOSTS="records.example",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_class_names_are_unique() -> None:
    """One name, one class: a name met in a trace or a search leads to one place. Django asks for `Command`."""
    places: dict[str, list[str]] = {}
    for path in (path for name in OURS for path in (ROOT / name).rglob("*.py")):
        if "migrations" in path.parts:
            continue
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef) and node.name != "Command":
                places.setdefault(node.name, []).append(str(path.relative_to(ROOT)))
    assert len(places) > 200
    assert {name: paths for name, paths in places.items() if len(paths) > 1} == {}


def test_no_test_module_imports_another() -> None:
    """What tests share lies in a helper: a test module brings its fixtures and is run again where it is imported."""
    wrong = []
    for path in (ROOT / "tests").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [name.name for name in node.names] if isinstance(node, ast.Import | ast.ImportFrom) else []
            wrong += [f"{path.relative_to(ROOT)}: {name}" for name in names if re.search(r"(^|\.)test_", name)]
    assert wrong == []


# A moment cut at a midnight that is not the school's: of UTC, or of whatever zone is active.
FOREIGN_DAY = re.compile(r"\w__date(__|\b)|\.localdate\(|\b(now|at|\w+_at)\.date\(\)|_at\|date:")
OTHER_MIDNIGHTS = {
    "grading/management/commands/assess.py",  # a file is judged without a database, so without a school
    "grading/management/commands/load_demo.py",  # there is no school yet, and the demo's keeps UTC
    "templates/grading/_wind_summary.html",  # a weather report is in UTC, and the page says so
}


def test_a_moment_becomes_a_day_of_the_school_only() -> None:
    names = [
        name
        for name in tracked_files()
        if name.startswith((*(f"{app}/" for app in OURS), "templates/"))
        and name.endswith((".py", ".html"))
        and "/migrations/" not in name
        and (ROOT / name).is_file()
    ]
    assert len(names) > 300
    assert set(files_that_say(FOREIGN_DAY, ROOT, names)) == OTHER_MIDNIGHTS


@pytest.mark.parametrize(
    "line", ["signed_at__date__lte=on", "day = now.date()", "row.signed_at.date()", '{{ signed_at|date:"j" }}']
)
def test_another_midnight_is_found(tmp_path: Path, line: str) -> None:
    (tmp_path / "reads.py").write_text(line)
    (tmp_path / "other.py").write_text("excess.begin.time(); on.isoformat()")
    assert files_that_say(FOREIGN_DAY, tmp_path, ["reads.py", "other.py"]) == ["reads.py"]
