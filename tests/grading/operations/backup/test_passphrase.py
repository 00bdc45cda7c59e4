"""The passphrase of a backup, and what the commands say about its file."""

from pathlib import Path

import pytest
from django.core.management import load_command_class

from grading.operations.backup.passphrase import read_passphrase
from school.errors import Refusal


def test_the_whole_file_is_the_passphrase_but_for_line_breaks_at_its_ends(tmp_path: Path) -> None:
    file = tmp_path / "passphrase"
    file.write_text("\nhalf of it, and\nthe other half \n\n")
    assert read_passphrase(file) == "half of it, and\nthe other half "
    file.write_text("eleven char\n")
    with pytest.raises(Refusal, match="11 characters: 12 at least"):
        read_passphrase(file)


@pytest.mark.parametrize("name", ["back_up", "restore"])
def test_the_commands_say_so(name: str) -> None:
    text = " ".join(load_command_class("grading", name).create_parser("manage.py", name).format_help().split())
    assert "first line" not in text
    assert "a file with nothing but the passphrase in it, 12 characters or more" in text
    assert "BACKUP_PASSPHRASE_FILE" in text
