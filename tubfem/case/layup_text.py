"""One grammar for what is laid: "2 x biax600 @ 45" and "foam80 15 mm"."""

import re
from dataclasses import dataclass

ENTRY = re.compile(
    r"""\s*(?:(?P<count>\S+?)\s*[x×]\s+)?      # 2 x
        (?P<name>[^\W\d][\w.-]*)               # biax600
        (?:\s+(?P<thickness>[-+\d.][^@]*?))?   # 15 mm
        (?:\s*@\s*(?P<angle>.*?))?\s*          # @ 45""",
    re.VERBOSE,
)
ANGLE = re.compile(r"([-+]?\d+(?:\.\d*)?)\s*(?:deg|°)?")


@dataclass(frozen=True, slots=True)
class EntryText:
    """The parts of an entry: `angle` [degrees], None if not written; `thickness` as text, None for a ply."""

    name: str
    count: int
    angle: float | None
    thickness: str | None


def parse_entry(text: str) -> EntryText:
    """Read "N x PLY @ ANGLE" (N and ANGLE optional) or "CORE THICKNESS".

    Raises
    ------
    ValueError
        Says what the entry should look like.
    """
    match = ENTRY.fullmatch(text)
    if match is None:
        raise ValueError(f'"{text}" cannot be read; write "2 x PLY @ 45", "PLY" or "CORE 15 mm"')
    count, angle, thickness = match["count"], match["angle"], match["thickness"]
    if count is not None and not re.fullmatch(r"[1-9]\d*", count):
        raise ValueError(f'"{text}": {count} plies cannot be laid; write a whole number of 1 or more before the x')
    if thickness is not None and (count is not None or angle is not None):
        raise ValueError(f'"{text}": a core has a thickness and neither a count nor an angle: "CORE 15 mm"')
    if angle is not None and not ANGLE.fullmatch(angle):
        raise ValueError(f'"{text}": "{angle}" is not an angle; write one number of degrees after the @')
    degrees = None if angle is None else float(ANGLE.fullmatch(angle)[1])
    return EntryText(match["name"], int(count or 1), degrees, thickness)
