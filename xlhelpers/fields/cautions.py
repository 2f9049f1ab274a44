"""The safety lines, in one wording for every page that shows them."""

CAUTIONS: tuple[str, ...] = (
    "Traffic: one person watches it. Never step back while aiming. Never lay a tape across a road.",
    "Wires: keep poles and tapes at least 3 m (10 ft) away, unless local rules say more. Treat "
    "every wire as live. Use the instrument instead.",
    "Nobody walks under a dead, split or hung top, not even for a diameter or a crown width.",
    "Never point a laser at people, vehicles or the sun. Watch out for wind, slopes and private "
    "ground.",
    "No safe place to stand? Write NOT SAFE. The office accepts it.",
    "This program does not rate tree risk. Local codes and licensed arborists decide.",
)
"""One sentence or a few on each danger, complete without a title."""
TITLES: tuple[str, ...] = (
    "Traffic",
    "Wires",
    "Dead tops",
    "Laser, ground, wind",
    "No safe place",
    "Tree risk",
)
"""What each caution is about, where a page shows a title beside it."""


def titled_cautions() -> tuple[tuple[str, str], ...]:
    """Return title and text of each caution; a text that begins with its title goes without."""
    texts = (text.removeprefix(f"{title}: ") for title, text in zip(TITLES, CAUTIONS, strict=True))
    return tuple(
        (title, text[0].upper() + text[1:]) for title, text in zip(TITLES, texts, strict=True)
    )
