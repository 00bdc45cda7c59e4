"""What every answer tells a browser.

Source: Content Security Policy Level 3 (W3C), the directives named in section 6; the policy itself is the project's.
"""

COMMON_HEADERS = {
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",
}
# Without anybody's data: the script that answers without network, and a calendar that a program asks for by the hour.
CACHEABLE_PAGES = {"grading:service_worker": "no-cache", "grading:calendar_feed": "private, max-age=3600"}


def assert_security_headers(headers: dict[str, str], where: str, kept: str = "no-store") -> None:
    policy = dict(part.strip().partition(" ")[::2] for part in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'", where
    assert {policy[name] for name in ("script-src", "style-src", "connect-src", "form-action")} == {"'self'"}, where
    assert "unsafe" not in headers["Content-Security-Policy"], where
    assert {name: headers.get(name) for name in COMMON_HEADERS} == COMMON_HEADERS, where
    assert "camera=()" in headers["Permissions-Policy"], where
    assert kept in headers["Cache-Control"], where
