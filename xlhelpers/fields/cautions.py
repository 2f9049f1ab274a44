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
    "more. Treat every wire as live. Nobody walks under a dead, split or hung top. No laser at "
    "people, vehicles or the sun. Watch out for wind, slopes and private ground. No safe place to "
    "stand? Write NOT SAFE. This program does not rate tree risk. Local codes and licensed "
    "arborists decide."
)
