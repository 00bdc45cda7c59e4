"""A passkey in Chromium, with a virtual authenticator (Chrome DevTools Protocol, domain WebAuthn), by keyboard."""

from typing import Any

from allauth.mfa.models import Authenticator
from django.test import Client
from playwright.sync_api import Page, expect

from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.journeys.devices import DESKTOP, OpenPage, assert_no_sideways_scroll, expect_logged_in
from tests.school.accounts.login_helpers import log_in

DEVICE = {
    "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
    "isUserVerified": True, "automaticPresenceSimulation": True,
}  # fmt: skip


def virtual_authenticator(page: Page) -> Any:
    """A device with a finger always on it; returns how it is told to forget."""
    tools = page.context.new_cdp_session(page)
    tools.send("WebAuthn.enable")
    key = tools.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})["authenticatorId"]
    return lambda: tools.send("WebAuthn.clearCredentials", {"authenticatorId": key})


def activate_by_keyboard(page: Page, name: str, role: Any = "link") -> None:
    page.get_by_role(role, name=name).focus()
    page.keyboard.press("Enter")


def log_out(page: Page) -> None:
    page.locator("#person-menu > summary").focus()
    page.keyboard.press("Enter")
    activate_by_keyboard(page, "Log out", "button")
    page.wait_for_url("**/login/")


def test_a_passkey_is_added_and_logs_in_alone_and_as_the_second_step(transactional_cast: Cast, enter: OpenPage) -> None:
    cast = transactional_cast
    page = enter("bert", DESKTOP, by_hand=True)
    forget = virtual_authenticator(page)
    page.keyboard.press("F2")
    page.keyboard.press("u")
    page.wait_for_url("**/account/")
    activate_by_keyboard(page, "Passkeys and codes")
    activate_by_keyboard(page, "Add a passkey")
    page.get_by_label("Your password").fill(SECRET)
    page.keyboard.press("Enter")
    page.get_by_label("Name of the passkey").fill("Bert's tablet")
    assert_no_sideways_scroll(page)
    page.keyboard.press("Enter")
    page.wait_for_url("**/recovery/")
    assert page.locator(".recovery li").count() == 10
    activate_by_keyboard(page, "I have saved them")
    expect(page.get_by_role("link", name="Remove Bert's tablet")).to_be_visible()
    assert Authenticator.objects.filter(user=cast.bert, type="webauthn").count() == 1
    log_out(page)

    activate_by_keyboard(page, "Use a passkey", "button")  # alone: no name, no password
    expect_logged_in(page)
    assert JournalEntry.objects.filter(what="logged in").latest("pk").after == {"with": ["passkey"]}
    log_out(page)

    page.get_by_label("Login name").fill("bert")
    page.get_by_label("Password").fill(SECRET)
    page.keyboard.press("Enter")
    page.wait_for_url("**/login/second-step/")
    activate_by_keyboard(page, "Use a passkey", "button")
    expect_logged_in(page)
    log_out(page)

    # Somebody guesses at Bert's password from ten places: he gets in all the same.
    for place in range(10):
        log_in(Client(), "bert", "wrong", f"192.0.2.{place}")
    page.get_by_label("Login name").fill("bert")
    page.get_by_label("Password").fill(SECRET)
    page.keyboard.press("Enter")
    page.wait_for_url("**/login/second-step/")  # his own device is not counted with the strangers
    activate_by_keyboard(page, "Use a passkey", "button")
    expect_logged_in(page)
    log_out(page)

    forget()
    activate_by_keyboard(page, "Use a passkey", "button")
    expect(page.get_by_role("alert")).to_contain_text("No passkey was used")
