"""Describe a browser in words, so that people recognise their own sessions. It is a guess from the User-Agent."""

# The order matters: Edge also sends "Chrome/" and "Safari/", and Chrome sends "Safari/".
BROWSERS = (("Edg/", "Edge"), ("Firefox/", "Firefox"), ("Chrome/", "Chrome or like it"), ("Safari/", "Safari"))
# Here too: an iPad or iPhone also sends "Mac OS X", and Android also sends "Linux".
SYSTEMS = (
    ("iPad", "iPad"),
    ("iPhone", "iPhone"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS X", "Mac"),
    ("Linux", "Linux"),
)


def describe_browser(user_agent: str) -> str:
    """Return browser and system of a User-Agent header, such as "Firefox, Linux"."""
    browser = next((word for mark, word in BROWSERS if mark in user_agent), "A browser")
    system = next((word for mark, word in SYSTEMS if mark in user_agent), "")
    return f"{browser}, {system}" if system else browser
