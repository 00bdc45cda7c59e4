"""What the installation says on systems where it installs nothing itself: one sentence with names, no trace."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

SCRIPT = settings.BASE_DIR / ".ci/install"
# What the script calls of an ordinary system; the rest is not there.
PROGRAMS = ("bash", "cat", "cut", "dirname", "env", "find", "grep", "id", "ls", "true")


def run_on(folder: Path, *stubs: tuple[str, str], what: str = "") -> subprocess.CompletedProcess[str]:
    """Run the script where only these programs are; a stub is a name and what it prints."""
    for name in PROGRAMS:
        (folder / name).symlink_to(str(shutil.which(name)))
    # The interpreter itself: a python3 that first looks for others would need more than there is.
    for name, printed in (("python3", f'exec {sys._base_executable} "$@"'), *stubs):
        (folder / name).unlink(missing_ok=True)
        (folder / name).write_text(f"#!{shutil.which('bash')}\n{printed}\n")
        (folder / name).chmod(0o755)
    arguments = [str(shutil.which("bash")), str(SCRIPT), *([what] if what else [])]
    environment = {"PATH": str(folder), "HOME": str(folder)}
    # A PATH without /sbin: the script adds it for ldconfig, which is a stub.
    return subprocess.run(arguments, env=environment, capture_output=True, text=True, check=False)


LINUX = (("uname", "echo Linux"), ("ldd", "echo 'ldd (GNU libc) 2.39'"), ("ldconfig", "true"))


@pytest.mark.parametrize(
    ("packager", "said"),
    [
        ("dnf", "System packages are missing: sudo dnf install pango harfbuzz"),
        ("pacman", "System packages are missing: sudo pacman -S pango harfbuzz"),
        ("zypper", "System packages are missing: sudo zypper install libpango-1_0-0 libharfbuzz-subset0"),
        ("", "System packages are missing (by their names in Debian): libpango-1.0-0 libpangoft2-1.0-0"
         " libharfbuzz-subset0"),
    ],
)  # fmt: skip
def test_another_linux_is_told_the_names_of_its_packages(tmp_path: Path, packager: str, said: str) -> None:
    done = run_on(tmp_path, *LINUX, *([(packager, "exit 9")] if packager else []))
    assert done.returncode == 1
    assert done.stderr.splitlines() == [said]


def test_macos_is_told_what_to_install_and_where_it_is_looked_for(tmp_path: Path) -> None:
    # The libraries of this machine do not count: those of macOS have other names.
    done = run_on(tmp_path, ("uname", "echo Darwin"), ("brew", "exit 9"), ("ls", "true"))
    assert done.returncode == 1
    first, second = done.stderr.splitlines()
    assert first == "System packages are missing: brew install pango harfbuzz"
    assert "DYLD_FALLBACK_LIBRARY_PATH" in second


def test_what_cannot_run_at_all_is_said_first(tmp_path: Path) -> None:
    done = run_on(tmp_path, ("uname", "echo Linux"), ("ldd", "echo 'musl libc (x86_64)' >&2; exit 1"))
    assert done.returncode == 1
    assert done.stderr.startswith("This system has musl for its C library")
    (tmp_path / "old").mkdir()
    done = run_on(tmp_path / "old", *LINUX, ("python3", "exit 1"))
    assert done.stderr == "Python 3.11 or newer is needed as python3.\n"


def test_the_container_is_made_by_the_same_steps() -> None:
    steps = (settings.BASE_DIR / ".deploy/Containerfile").read_text()
    assert "RUN bash .ci/install " in steps
    copied = [line.split()[1:-1] for line in steps.splitlines() if line.startswith("COPY ")]
    for name in (one for names in copied for one in names):
        assert (settings.BASE_DIR / name).exists(), name
    tops = {Path(name).parts[0] for names in copied for name in names}
    # What runs is all there: the apps, their templates and what is loaded from files.
    assert {"school", "lessons", "grading", "templates", "fixtures", "manage.py"} <= tops
    unit = (settings.BASE_DIR / ".deploy/training-record-school.service").read_text()
    assert "manage.py start --port 8000" in unit
    assert '"manage.py", "start", "--port", "8000"' in steps


def test_nothing_of_the_system_is_written_without_root(tmp_path: Path) -> None:
    done = run_on(tmp_path, *LINUX, ("apt-get", "exit 9"), ("id", "echo 1000"), what="tests")
    assert done.returncode == 1
    assert done.stderr.startswith("System packages are missing: sudo apt-get install -y libpango-1.0-0 ")
