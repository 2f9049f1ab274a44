"""The cautions, in one wording, for every place where measuring is described."""

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
# where the whole text would take the room of the readings
SHORT_CAUTIONS = (
    "TAKE CARE  One person watches the traffic. Never step back while aiming. Never lay a tape "
    "across a road. Keep poles and tapes at least 3 m (10 ft) from wires, unless local rules say "
    "more. Treat every wire as live. Nobody walks under a dead, split or hung top. Never point a "
    "laser at people, vehicles or the sun. Watch out for wind, slopes and private ground. No safe "
    "place to stand? Write NOT SAFE. This program does not rate tree risk. Local codes and "
    "licensed arborists decide."
)

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
