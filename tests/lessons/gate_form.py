"""The form of the gates as its page sends it."""

from typing import Any


def edited_form(raw: dict[str, Any], **typed: str) -> dict[str, str]:
    """The inputs of the page as a browser sends them."""
    sent = {"shape": raw["shape"], "valid_from": raw["valid_from"]}
    for place, gate in enumerate(raw["gates"]):
        for key, value in gate.items():
            if isinstance(value, dict):
                sent |= {f"gate-{place}-{key}-{name}": text for name, text in value.items() if text}
            else:
                sent[f"gate-{place}-{key}"] = value
    return sent | typed
