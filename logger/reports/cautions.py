"""What every record says of itself: cautions, and what it is not."""

CAUTIONS = (
    "A burning candle stays in sight of a person, whatever this tool says. Logging a probe "
    "unattended never means leaving a flame unattended.",
    "Keep it away from whatever can burn, from draughts, from children and pets, in a room with a "
    "working smoke alarm. Have a snuffer or a flat metal lid within reach; no water; do not lift "
    "or move a lit vessel.",
    "A temperature limit is no promise that the vessel may be touched or held.",
    "This record is a maker's own test. What may be sold is decided by local codes and by a "
    "licensed test laboratory.",
)

WHAT_IT_IS_NOT = (
    "It is no certificate, and no statement that a standard is met.",
    "It judges the candles that were burned, of the lots that are named; another lot of wax, "
    "fragrance, wick or vessel is another candle.",
    "No standard's figure for the temperature of a vessel's outside was seen by those who wrote "
    "this program: the limits are a maker's own.",
    "It speaks of the hottest measured place; beside it, it may have been hotter.",
)

# Titles alone were seen, no clause: the record names them and claims nothing of them.
LABORATORY = (
    "ASTM F2417 (fire safety for candles)",
    "EN 15493 (fire safety of indoor candles)",
    "EN 15426 (sooting behaviour)",
    "ASTM F2179 (glass containers for candles)",
)
