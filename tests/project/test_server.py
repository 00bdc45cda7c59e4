"""The files of .deploy on one machine: the roles of PostgreSQL, nginx, gunicorn and a worker as their units start them.

Only what must differ is put in its place: folders, ports, the certificate, which is made here.
"""

import http.client
import json
import os
import re
import shlex
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.conf import settings
from django.db import connection, migrations
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.operations.base import Operation
from django.db.migrations.recorder import MigrationRecorder

from grading.operations import tasks
from tests.cast import SECRET
from tests.databases import OLDER_MIGRATIONS, Database, connected_to, load_older_version, temporary_database

DEPLOY: Path = settings.BASE_DIR / ".deploy"
PATIENCE = 60.0
CHAIN = "SELECT number, digest FROM grading_seal ORDER BY number"
TOKEN = "the-token-of-the-monitor"


def wait_until(what: Callable[[], Any]) -> Any:
    end = time.monotonic() + PATIENCE
    while not (found := what()):
        assert time.monotonic() < end, "nothing came of it"
        time.sleep(0.05)
    return found


def nginx() -> str:
    found = shutil.which("nginx", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    assert found, "nginx is missing: bash .ci/install tests"
    return found


def unit_setting(name: str, key: str) -> list[str]:
    return re.findall(rf"^{key}=(.*)$", (DEPLOY / name).read_text(), re.MULTILINE)


def example_environment() -> dict[str, str]:
    lines = (settings.BASE_DIR / ".env.example").read_text().splitlines()
    return dict(line.split("=", 1) for line in lines if line and not line.startswith("#"))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def make_certificate(folder: Path) -> tuple[Path, Path]:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem, private = folder / "fullchain.pem", folder / "privkey.pem"
    pem.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    private.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return pem, private


@dataclass
class Visitor:
    """A browser as far as it matters here: TLS, cookies, the name of the site at its usual port."""

    secure: int
    plain: int
    certificate: Path
    cookies: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, path: str, body: str = "", tls: bool = True, **headers: str) -> Any:
        if tls:
            trust = ssl.create_default_context(cafile=str(self.certificate))
            link: Any = http.client.HTTPSConnection("localhost", self.secure, context=trust, timeout=PATIENCE)
        else:
            link = http.client.HTTPConnection("localhost", self.plain, timeout=PATIENCE)
        sent = {"Host": "localhost", "Referer": f"https://localhost{path}", **headers}
        if self.cookies:
            sent["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        if method == "POST":
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        link.request(method, path, body or None, sent)
        reply = link.getresponse()
        reply.text = reply.read().decode(errors="replace")
        for cookie in reply.headers.get_all("Set-Cookie") or []:
            name, value = cookie.split(";")[0].split("=", 1)
            self.cookies[name] = value
        link.close()
        return reply

    def log_in(self, username: str) -> Any:
        page = self.ask("GET", "/login/")
        form = next(
            found
            for found in BeautifulSoup(page.text, "html.parser").find_all("form")
            if found.find("input", type="password")
        )
        typed = {"text": username, "password": SECRET}
        fields = {
            row["name"]: typed.get(str(row.get("type", "text")), row.get("value", "")) for row in form.find_all("input")
        }
        return self.ask("POST", form.get("action") or "/login/", "&".join(f"{k}={v}" for k, v in fields.items()))


@dataclass
class Site:
    folder: Path
    database: Database
    environment: dict[str, str]
    visitor: Visitor
    chain: str = ""
    migrations: dict[str, str] = field(default_factory=dict)

    def command(self, unit: str, **places: str) -> list[str]:
        line = unit_setting(unit, "ExecStart")[0].replace("/opt/training-record/.var/venv/bin/python", sys.executable)
        for place, here in places.items():
            line = line.replace(place.replace("__", "/"), here)
        return shlex.split(line)

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text()

    def start(self, name: str, command: list[str]) -> subprocess.Popen[bytes]:
        with (self.folder / f"{name}.log").open("ab") as log:
            return subprocess.Popen(
                command, env=self.environment, cwd=settings.BASE_DIR, stdout=log, stderr=log, start_new_session=True
            )

    def run(self, *command: str) -> str:
        done = subprocess.run(
            command, env=self.environment, cwd=settings.BASE_DIR, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return done.stdout


def environment_of(folder: Path, database: Database) -> dict[str, str]:
    given = example_environment()
    assert {"DATABASE_URL", "SECRET_KEY", "ALLOWED_HOSTS", "METRICS_TOKEN"} <= set(given)
    return given | {
        "PATH": os.environ["PATH"],
        "DATABASE_URL": database.address(database.app),
        "SECRET_KEY": "a-long-secret-of-this-test-only-0123456789-abcdefghijklmnopq",
        "ALLOWED_HOSTS": "localhost",
        "PUBLIC_ADDRESS": "https://localhost",
        "SIGNING_KEY_FILE": str(folder / "none.pem"),
        # What this process signs in that database is proved by the key of the server.
        "SIGNATURE_KEY": settings.SIGNATURE_KEYS[0],
        "SEAL_HEAD_FILE": str(folder / "seal-head.json"),
        "METRICS_TOKEN": TOKEN,
        "METRICS_FOLDER": str(folder / "metrics"),
        "READERS_FOLDER": str(folder / "readers"),
        "DATABASE_DISK": str(folder),
        "STATIC_ROOT": str(folder / "static"),
        "GUNICORN_SOCKET": f"unix:{folder}/web.sock",
        "WEB_WORKERS": "2",
        "SECOND_STEP_REQUIRED": "false",  # tests/school/accounts/test_second_step.py has it; here a password is enough
        "PYTHONDONTWRITEBYTECODE": "1",
    }


def nginx_settings(folder: Path, visitor: Visitor, pem: Path, private: Path) -> Path:
    """The site as it is, with this machine's places; around it the little that Debian's own file brings."""
    proxy = folder / "proxy.conf"
    proxy.write_text((DEPLOY / "nginx-proxy.conf").read_text())
    site = (DEPLOY / "nginx.conf").read_text()
    for there, here in {
        "listen 80;": f"listen 127.0.0.1:{visitor.plain};",
        "listen 443 ssl http2;": f"listen 127.0.0.1:{visitor.secure} ssl http2;",
        "listen 80 default_server;": f"listen 127.0.0.1:{visitor.plain} default_server;",
        "listen 443 ssl http2 default_server;": f"listen 127.0.0.1:{visitor.secure} ssl http2 default_server;",
        "listen [::]:80 default_server;": "",
        "listen [::]:443 ssl http2 default_server;": "",
        "listen [::]:80;": "",
        "listen [::]:443 ssl http2;": "",
        "records.example;": "localhost;",
        "/etc/letsencrypt/live/records.example/fullchain.pem": str(pem),
        "/etc/letsencrypt/live/records.example/privkey.pem": str(private),
        "/run/training-record/web.sock": f"{folder}/web.sock",
        "/opt/training-record/.var/static/": f"{folder}/static/",
        "/etc/nginx/training-record-proxy.conf": str(proxy),
        "/var/log/nginx/training-record.log": str(folder / "access.log"),
    }.items():
        assert there in site, there
        site = site.replace(there, here)
    kept = "".join(
        f"{name}_temp_path {folder}/{name};" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    account = "user root;" if os.geteuid() == 0 else ""
    whole = folder / "nginx.conf"
    whole.write_text(
        f"{account} daemon off; worker_processes 1; pid {folder}/nginx.pid; error_log {folder}/nginx.log warn;"
        f" events {{ worker_connections 64; }} http {{ {kept} types {{ text/css css; text/javascript js; }}\n{site}\n}}"
    )
    return whole


def last_migrations(database: Database) -> dict[str, str]:
    listed = database.psql(database.owner, "-c", "SELECT app, max(name) FROM django_migrations GROUP BY app")
    return dict(line.split("|") for line in listed.splitlines())


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: Any) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("server")
    pem, private = make_certificate(folder)
    visitor = Visitor(free_port(), free_port(), pem)
    started: list[subprocess.Popen[bytes]] = []
    with temporary_database("server", "school_holder", "school_server") as database:
        with django_db_blocker.unblock():
            load_older_version(database)
        found = Site(folder, database, environment_of(folder, database), visitor)
        found.chain = database.psql(database.owner, "-c", CHAIN)
        found.migrations = last_migrations(database)
        found.environment["DATABASE_OWNER_URL"] = database.address(database.owner)
        found.run(*found.command("training-record-migrate.service"))
        del found.environment["DATABASE_OWNER_URL"]
        found.run(sys.executable, "manage.py", "collectstatic", "--no-input", "--verbosity", "0")
        started.append(found.start("web", found.command("training-record-web.service")))
        started.append(found.start("worker", found.command("training-record-worker.service")))
        started.append(found.start("nginx", [nginx(), "-c", str(nginx_settings(folder, visitor, pem, private))]))
        try:
            wait_until(lambda: (folder / "web.sock").exists() and (folder / "nginx.pid").exists())
            yield found
        finally:
            for process in reversed(started):
                process.send_signal(signal.SIGTERM)
            for process in started:
                process.wait(timeout=PATIENCE)
    assert [process.returncode for process in started] == [0, 0, 0]


def test_an_older_school_came_to_this_version_with_its_chain_and_the_rights_of_its_roles(site: Site) -> None:
    """What the worker finds in the records of it, and in the guards, is asked below."""
    assert site.migrations == OLDER_MIGRATIONS
    now = last_migrations(site.database)
    assert {app for app in site.migrations if now[app] > site.migrations[app]} == {"school", "lessons", "grading"}
    assert len(site.chain.splitlines()) == 2
    assert site.database.psql("postgres", "-c", CHAIN) == site.chain
    rights = "SELECT has_function_privilege('%s', 'erase_enrolment(bigint, date)', 'EXECUTE')"
    may = [site.database.psql("postgres", "-c", rights % role) for role in (site.database.app, "record_app")]
    assert may == ["t", "f"]


class FailingOperation(Operation):
    reversible = False

    def state_forwards(self, app_label: str, state: Any) -> None:
        pass

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        raise RuntimeError("half-way")


def test_a_migration_that_fails_half_way_leaves_the_tables_as_they_were(site: Site, django_db_blocker: Any) -> None:
    broken = migrations.Migration("0999_breaks", "school")
    broken.operations = [
        migrations.RunSQL("CREATE TABLE half_way (n int)"),
        migrations.RunSQL("ALTER TABLE school_school ADD COLUMN half_way int"),
        migrations.RunSQL("ALTER TABLE school_journalentry DISABLE TRIGGER USER"),
        FailingOperation(),
    ]
    with django_db_blocker.unblock(), connected_to(site.database, site.database.owner):
        executor = MigrationExecutor(connection)
        with pytest.raises(RuntimeError, match="half-way"):
            executor.apply_migration(executor.loader.project_state(), broken)
        assert ("school", "0999_breaks") not in MigrationRecorder(connection).applied_migrations()
    left = "SELECT count(*) FROM information_schema.columns WHERE 'half_way' IN (table_name, column_name)"
    off = "SELECT count(*) FROM pg_trigger WHERE tgrelid = 'school_journalentry'::regclass AND tgenabled <> 'O'"
    assert [site.database.psql("postgres", "-c", asked) for asked in (left, off)] == ["0", "0"]


def test_a_person_logs_in_over_tls_and_every_answer_is_guarded(site: Site) -> None:
    reply = site.visitor.log_in("frida")
    assert reply.status == 302, reply.text
    cookies = reply.headers.get_all("Set-Cookie")
    assert cookies
    assert all("; Secure" in cookie for cookie in cookies)
    assert any(cookie.startswith("__Host-session=") and "HttpOnly" in cookie for cookie in cookies)
    page = site.visitor.ask("GET", "/records/installation/")
    assert page.status == 200
    assert page.version == 11
    assert "As this version needs them." in page.text
    # RFC 6797, 6.1: HSTS is told over TLS, with max-age.
    assert page.headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    assert page.headers["X-Content-Type-Options"] == "nosniff"
    assert "nginx/" not in page.headers["Server"]
    static = re.search(r'href="(/static/school/app\.[0-9a-f]{12}\.css)"', page.text)
    assert static
    sheet = site.visitor.ask("GET", static[1], **{"Accept-Encoding": "gzip"})
    assert sheet.status == 200
    assert sheet.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert sheet.headers["Content-Encoding"] == "gzip"
    assert sheet.headers["Content-Type"] == "text/css"


def test_without_tls_nothing_is_said_but_where_to_go(site: Site) -> None:
    reply = site.visitor.ask("GET", "/login/?next=/me/", tls=False)
    assert (reply.status, reply.headers["Location"]) == (301, "https://localhost/login/?next=/me/")


def test_another_name_is_sent_nowhere(site: Site) -> None:
    """RFC 9110, 7.4 and 15.5.20 (421, a request for a site that this connection does not answer for)."""
    for host in ("evil.example", "localhost.evil.example", "evil.example:80", "127.0.0.1"):
        with pytest.raises(http.client.RemoteDisconnected):
            site.visitor.ask("GET", "/login/", tls=False, Host=host)
        reply = site.visitor.ask("GET", "/login/", Host=host)
        assert (reply.status, reply.headers.get("Location")) == (421, None)
    assert (
        site.visitor.ask("GET", "//evil.example/", tls=False).headers["Location"] == "https://localhost//evil.example/"
    )
    # In the handshake already, where a visitor names another site there.
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    with (
        socket.create_connection(("127.0.0.1", site.visitor.secure), PATIENCE) as link,
        pytest.raises(ssl.SSLError),
    ):
        context.wrap_socket(link, server_hostname="evil.example")


def test_what_is_too_large_is_refused_before_it_is_read(site: Site) -> None:
    """RFC 9110, 15.5.14."""
    assert site.visitor.ask("POST", "/check/", **{"Content-Length": str(33 * 2**20)}).status == 413


def test_a_visitor_cannot_say_who_they_are_for_the_proxy(site: Site) -> None:
    forged = {"X-Request-ID": "forged-by-a-visitor", "X-Forwarded-Proto": "http", "X-Forwarded-Host": "evil.example"}
    reply = site.visitor.ask("GET", "/health/", **forged)
    assert reply.status == 200
    assert re.fullmatch(r"[0-9a-f]{32}", reply.headers["X-Request-ID"])
    assert "no-store" in reply.headers["Cache-Control"]
    secret = "/expiry-dates/5f0c3f9e-0000-4000-8000-000000000000.ics?name=Ines"
    assert site.visitor.ask("GET", secret).status == 404
    kept = wait_until(lambda: [line for line in site.log("access").splitlines() if "/expiry-dates/" in line])
    assert json.loads(kept[0])["path"] == "/expiry-dates/"
    assert "Ines" not in site.log("access")


def test_guessing_is_slowed_down(site: Site) -> None:
    stranger = Visitor(site.visitor.secure, site.visitor.plain, site.visitor.certificate)
    # To look at the page counts for nothing: more visitors of one address than the limit and its burst.
    assert {stranger.ask("GET", "/login/").status for _ in range(40)} == {200}
    wait_until(
        lambda: stranger.ask("POST", "/login/").status == 429
    )  # 20 a minute and a burst: a slow machine asks longer
    assert stranger.ask("GET", "/login/").status == 200
    known = Visitor(site.visitor.secure, site.visitor.plain, site.visitor.certificate, {"__Host-device": "of-a-person"})
    assert known.ask("POST", "/login/").status != 429
    assert stranger.ask("GET", "/health/").status == 200


def test_a_worker_checks_the_records_and_the_monitor_hears_of_it(site: Site, django_db_blocker: Any) -> None:
    with django_db_blocker.unblock(), connected_to(site.database, site.database.owner):
        tasks.check_records.defer(timestamp=0)
    # Every seal there is, those of the check's own round too.
    checked = "SELECT seals = (SELECT count(*) FROM grading_seal) AND seals > 2, found FROM grading_recordcheck"
    wait_until(lambda: site.database.psql("postgres", "-c", checked) == "t|0")
    assert site.visitor.ask("GET", "/ready/").text == '{"ready": true}'
    assert site.visitor.ask("GET", "/metrics/").status == 401
    text = site.visitor.ask("GET", "/metrics/", Authorization=f"Bearer {TOKEN}").text
    figures = dict(line.rsplit(" ", 1) for line in text.splitlines() if not line.startswith("#"))
    assert figures["training_record_chain_holds"] == "1.0"
    assert float(figures["training_record_seals"]) > 2
    assert float(figures['training_record_requests_total{status="2xx",view="grading:health"}']) >= 1


def test_the_backup_of_each_night_is_made_as_its_unit_says(site: Site) -> None:
    kept = site.folder / "backups"
    kept.mkdir()
    (site.folder / "passphrase").write_text("a passphrase of this test\n")
    command = site.command("training-record-backup.service", **{"__var__backups__training-record": str(kept)})
    command = [word.replace("${CREDENTIALS_DIRECTORY}", str(site.folder)) for word in command]
    said = site.run(*command)
    seals = site.database.psql("postgres", "-c", "SELECT count(*) FROM grading_seal")
    assert f"{seals} seals, the last is {seals}" in said
    assert "not encrypted" not in said
    assert len(list(kept.iterdir())) == 1
    assert unit_setting("training-record-backup.service", "ReadWritePaths") == ["/var/backups/training-record"]


def test_each_line_of_the_servers_logs_is_an_object(site: Site) -> None:
    printed = "Launching a worker on all queues"  # on standard output, by the queue's own command
    lines = [line for name in ("web", "worker") for line in site.log(name).splitlines() if line != printed]
    assert lines
    assert {"at", "level", "logger", "message"} <= set.intersection(*(set(json.loads(line)) for line in lines))


@pytest.mark.parametrize("unit", sorted(path.name for path in DEPLOY.glob("*.service")))
def test_a_unit_is_hardened_and_understood(unit: str, tmp_path: Path) -> None:
    text = (DEPLOY / unit).read_text()
    for fence in ("NoNewPrivileges=yes", "ProtectSystem=strict", "ProtectHome=yes", "CapabilityBoundingSet=\n"):
        assert fence in text
    verifier = shutil.which("systemd-analyze")
    if verifier:
        here = text.replace("/opt/training-record/.var/venv/bin/python", sys.executable)
        for path in DEPLOY.glob("*.service"):
            (tmp_path / path.name).write_text(here if path.name == unit else path.read_text())
        done = subprocess.run([verifier, "verify", str(tmp_path / unit)], capture_output=True, text=True, check=False)
        assert [line for line in done.stderr.splitlines() if line.startswith(unit)] == []
