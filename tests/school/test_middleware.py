"""What is said of the order of the middleware is its order."""

from django.conf import settings

from school.middleware import SecurityHeaders


def test_what_lies_outside_the_security_headers_is_named_there() -> None:
    names = [path.rsplit(".", 1)[-1] for path in settings.MIDDLEWARE]
    outside = names[: names.index("SecurityHeaders")]
    assert outside == ["RequestId", "RequestMetrics"]
    assert f"Only {' and '.join(outside)} lie outside of it" in str(SecurityHeaders.__doc__)
