from html import escape


def n(value: float) -> str:
    """Return a number with at most two decimals and no trailing zeros, to keep the SVG small."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def signed_number(value: float) -> str:
    """Return a number with its sign, a real minus and no sign for zero."""
    if value == 0:
        return "0"
    return ("+" if value > 0 else "\u2212") + n(abs(value))


def svg_element(
    w: float, h: float, body: str, label: str | None = None, cls: str = "g", px: tuple[float, float] | None = None
) -> str:
    # Escaped, because templates insert a mark as safe text (school/templatetags/marks.py).
    named = f'role="img" aria-label="{escape(label)}"' if label else 'aria-hidden="true"'
    wide, high = px or (w, h)
    return f'<svg class="{cls}" viewBox="0 0 {n(w)} {n(h)}" width="{n(wide)}" height="{n(high)}" {named}>{body}</svg>'


def text(
    x: float,
    y: float,
    words: str,
    size: float = 15,
    weight: int = 400,
    anchor: str = "start",
    fill: str = "currentColor",
) -> str:
    return (
        f'<text x="{n(x)}" y="{n(y)}" font-size="{n(size)}" font-weight="{weight}"'
        f' text-anchor="{anchor}" fill="{fill}">{escape(words)}</text>'
    )


def path(d: str, width: float, *, fill: str = "none", stroke: str = "currentColor", dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{d}" fill="{fill}" stroke="{stroke}" stroke-width="{n(width)}"{dashed}/>'


# On paper the tint is white: without a line round it, a tolerance would vanish from every printed figure.
TINT = 'fill="var(--land)" stroke="var(--hair)" stroke-width="1"'


def tint_path(d: str) -> str:
    """Return an area in the tint of a tolerance, with its outline."""
    return f'<path d="{d}" {TINT}/>'


def tint_rect(x: float, y: float, w: float, h: float) -> str:
    """Return a rectangle in the tint of a tolerance, with its outline."""
    return f'<rect x="{n(x)}" y="{n(y)}" width="{n(w)}" height="{n(h)}" {TINT}/>'


def strike_path(d: str, width: float) -> str:
    """Return a stroke through a mark, with an edge in the background colour that separates it from the mark."""
    return path(d, width * 2.2, stroke="var(--paper)") + path(d, width)
