"""TOML text to a dictionary; the commonest slips of writing it are told in the builder's words."""

import re
import tomllib

from tubfem.case.lines import STRING, key_lines
from tubfem.errors import CaseError

PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")
NUMBER = re.compile(r"(?<![\w.\"'])[-+]?\d+(?:\.\d+)?$")
NAME = r"[A-Za-z_][\w-]*"


def parse_toml(text: str, name: str) -> dict[str, object]:
    """Values of a TOML text; `name` is the file's, for messages.

    Raises
    ------
    CaseError
        "name:line: what is wrong: what to do".
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CaseError(_explain(text, name, str(error))) from None


def _explain(text: str, name: str, error: str) -> str:
    place = PLACE.search(error)
    lines = text.split("\n")
    row, column = (int(place[1]), int(place[2])) if place and place[1] else (len(lines), len(lines[-1]) + 1)
    at = min(sum(len(line) + 1 for line in lines[: row - 1]) + column - 1, len(text))
    for slip in SLIPS:
        if found := slip(text, at, row):
            line, message = found
            return f"{name}:{line}: {message}"
    return f"{name}:{row}: this line cannot be read as TOML ({PLACE.sub('', error)}): mind quotes, brackets and commas"


def _open_brackets(text: str, at: int) -> list[tuple[str, int]]:
    """Brackets still open at an offset, outermost first: (which, where)."""
    stack: list[tuple[str, int]] = []
    position = 0
    while position < at:
        if match := STRING.match(text, position):
            position = match.end()
            continue
        character = text[position]
        if character == "#":
            newline = text.find("\n", position)
            position = at if newline < 0 else newline
        elif character in "[{":
            stack.append((character, position))
        elif character in "]}" and stack:
            stack.pop()
        position += 1
    return stack


def _line(text: str, at: int) -> int:
    return text.count("\n", 0, at) + 1


def _row(text: str, row: int) -> str:
    return text.split("\n")[row - 1]


def _curly_quotes(text: str, at: int, row: int) -> tuple[int, str] | None:
    found = re.search("[“”„‘’]", _row(text, row).split("#")[0])
    return (row, f'{found[0]} is a quote of a word processor; write the straight one, "') if found else None


def _given_twice(text: str, at: int, row: int) -> tuple[int, str] | None:
    for path, second, first in key_lines(text[: text.find("\n", at) if "\n" in text[at:] else len(text)]).repeats:
        if abs(second - row) <= 1:
            return second, f"{'.'.join(str(part) for part in path)} is given twice (line {first})"
    return None


def _unquoted_joint(text: str, at: int, row: int) -> tuple[int, str] | None:
    match = re.match(r"\s*((?:\*|[A-Za-z_][\w.-]*)\s*/\s*(?:\*|[A-Za-z_][\w.-]*))\s*=", _row(text, row))
    if match is None:
        return None
    return row, f'a joint\'s name holds a "/", so put it in quotes: "{match[1].replace(" ", "")}"'


def _comma_or_unit(text: str, at: int, row: int) -> tuple[int, str] | None:
    before, rest = text[:at].rstrip(" \t"), text[at:].split("\n")[0].split("#")[0]
    number = NUMBER.search(before.rsplit("\n", 1)[-1])
    inside = re.search(r"=\s*([-+]?\d+),(\d+)\s*$", before)  # in a { } table "1,5" fails after the 5
    if inside:
        return row, f"{inside[1]},{inside[2]}: a decimal comma? Write {inside[1]}.{inside[2]}"
    if number is None:
        return None
    if decimals := re.match(r"\s*,(\d+)", rest):
        return row, f"{number[0]},{decimals[1]}: a decimal comma? Write {number[0]}.{decimals[1]}"
    if re.match(rf"\s*{NAME}\s*=", rest):
        return None  # a second key, not a unit
    if unit := re.match(r"\s*([A-Za-z°%µ][\w°%µ^*/·²³-]*)", rest):
        value = f"{number[0]} {unit[1]}"
        return row, f'{value}: a value with a unit needs quotes, "{value}"; a bare number is mm'
    return None


def _inline_table(text: str, at: int, row: int) -> tuple[int, str] | None:
    stack = _open_brackets(text, at)
    if not stack or stack[-1][0] != "{":
        return None
    opened = stack[-1][1]
    comma = re.search(r",\s*$", text[:at]) and text[at : at + 1] == "}"
    if "\n" not in text[opened : at + 1] and not comma:
        return None
    headers = re.findall(r"^\s*\[([^\[\]]+)\]", text[:opened], re.MULTILINE)
    key = re.search(r"([\w.\"'/*-]+)\s*=\s*$", text[:opened])
    table = ".".join(part for part in (headers[-1] if headers else "", key[1] if key else "") if part)
    advice = f"; for a long one write [{table}] and one key per line" if key else ""
    return _line(text, opened), f"a {{ }} table must stay on one line and end without a comma{advice}"


def _two_keys(text: str, at: int, row: int) -> tuple[int, str] | None:
    match = re.match(rf"\s*,?\s*({NAME})\s*=", text[at:])
    if match is None or "\n" in match[0]:
        return None
    stack = _open_brackets(text, at)
    if stack and stack[-1][0] == "{":
        return row, f'a comma is missing before "{match[1]}"'
    if stack or not text[:at].rsplit("\n", 1)[-1].strip():
        return None
    return row, f'one key per line. Start a new line before "{match[1]}", or put both in {{ }}, with a comma'


def _open_list(text: str, at: int, row: int) -> tuple[int, str] | None:
    stack = _open_brackets(text, at)
    if not stack or stack[-1][0] != "[":
        return None
    return _line(text, stack[-1][1]), "the bracket [ opened here is not closed, or a comma is missing between entries"


def _unquoted_text(text: str, at: int, row: int) -> tuple[int, str] | None:
    before = text[:at].rsplit("\n", 1)[-1]
    word = re.match(r"[A-Za-z_][\w.*/ -]*", text[at:])
    if word and re.search(r"[=\[,]\s*$", before):
        return row, f'{word[0].strip()}: text needs quotes, "{word[0].strip()}"'
    if re.search(r"[\"'][^\"']*$", before) and before.count('"') % 2:
        return row, 'a text is not closed: put a " at its end'
    return None


SLIPS = (
    *(_curly_quotes, _given_twice, _unquoted_joint, _comma_or_unit, _inline_table, _two_keys, _unquoted_text),
    _open_list,
)
