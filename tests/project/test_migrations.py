"""Migrations and models, as far as an upgrade and a backup rely on them. An upgrade itself is made in test_server."""

import ast
import importlib

from django.apps import apps
from django.conf import settings

OURS = ("school", "lessons", "grading")


def test_every_migration_is_one_transaction() -> None:
    found = [path for name in OURS for path in (settings.BASE_DIR / name / "migrations").glob("0*.py")]
    assert len(found) > 20
    wrong = []
    for path in found:
        migration = importlib.import_module(f"{path.parent.parent.name}.migrations.{path.stem}").Migration
        if not migration.atomic or "CONCURRENTLY" in path.read_text().upper():
            wrong.append(path.name)
    assert wrong == []


def test_a_migration_never_follows_later_code() -> None:
    """Its SQL is text: an import of the project's code would change what an upgrade of last year does."""
    found = [path for name in OURS for path in (settings.BASE_DIR / name / "migrations").glob("0*.py")]
    assert len(found) > 20
    for path in found:
        for node in ast.walk(ast.parse(path.read_text())):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            later = [name for name in names if name.split(".")[0] in OURS]
            assert later == [], path.name


def test_nothing_is_kept_outside_of_the_database() -> None:
    """So that a backup of the database is a backup of everything: no model has a file on the disk."""
    assert [
        f"{model.__name__}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if field.get_internal_type() in ("FileField", "ImageField", "FilePathField")
    ] == []
