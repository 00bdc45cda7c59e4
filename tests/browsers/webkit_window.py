"""A window of WebKit whose storage lies in a folder and stays there, for its driver to steer.

Run by the system's own Python, which has the bindings of GTK. The window that comes with WebKit forgets
everything when it is driven, and so cannot show what a tablet holds after it was switched off.
"""

import sys

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # noqa: E402 - after the versions are named


def main(folder: str, width: str, height: str) -> None:
    kept = WebKit2.WebsiteDataManager(base_data_directory=f"{folder}/data", base_cache_directory=f"{folder}/cache")
    context = WebKit2.WebContext(website_data_manager=kept)
    context.set_automation_allowed(True)
    cookies = context.get_cookie_manager()
    cookies.set_persistent_storage(f"{folder}/cookies.sqlite", WebKit2.CookiePersistentStorage.SQLITE)

    def open_window(*_: object) -> WebKit2.WebView:
        view = WebKit2.WebView(web_context=context, is_controlled_by_automation=True)
        window = Gtk.Window(default_width=int(width), default_height=int(height), decorated=False)
        window.add(view)
        window.show_all()
        view.connect("close", lambda _: Gtk.main_quit())
        return view

    def begin(_: object, session: WebKit2.AutomationSession) -> None:
        session.connect("create-web-view", open_window)

    context.connect("automation-started", begin)
    Gtk.main()


main(*sys.argv[1:])
