"""A browser in words, so that people know their own sessions in the list. A guess from what it says of itself."""

BROWSERS = (("Edg/", "Edge"), ("Firefox/", "Firefox"), ("Chrome/", "Chrome or like it"), ("Safari/", "Safari"))
SYSTEMS = (
    ("iPad", "iPad"),
    ("iPhone", "iPhone"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS X", "Mac"),
    ("Linux", "Linux"),
)


def describe_browser(user_agent: str) -> str:
    browser = next((word for mark, word in BROWSERS if mark in user_agent), "A browser")
    system = next((word for mark, word in SYSTEMS if mark in user_agent), "")
    return f"{browser}, {system}" if system else browser
