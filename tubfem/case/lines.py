"""Where each key of a TOML text stands: tomllib gives values without lines, so the text is walked once more."""

import re
from bisect import bisect_right
from dataclasses import dataclass, field

Path = tuple[str | int, ...]

STRING = re.compile(r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'', re.DOTALL)
BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
KEY = re.compile(r'\s*("(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|[A-Za-z0-9_-]+)\s*(\.?)')
BARE = re.compile(r"[^,\]}#\n]*")


@dataclass(frozen=True, slots=True)
class KeyLines:
    """Line of every key, table and list entry (entries count from 0), and what is given twice.

    `repeats` holds (path, line of the second, line of the first).
    """

    lines: dict[Path, int]
    repeats: tuple[tuple[Path, int, int], ...]


@dataclass(slots=True)
class _Walk:
    text: str
    starts: list[int]
    lines: dict[Path, int] = field(default_factory=dict)
    given: dict[Path, int] = field(default_factory=dict)
    repeats: list[tuple[Path, int, int]] = field(default_factory=list)
    counts: dict[Path, int] = field(default_factory=dict)

    def line(self, at: int) -> int:
        return bisect_right(self.starts, at)

    def note(self, path: Path, at: int, *, owns: bool) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], self.line(at))
        if owns:
            self.lines[path] = self.line(at)  # a table's own header rather than its first part
            if path in self.given:
                self.repeats.append((path, self.line(at), self.given[path]))
            self.given.setdefault(path, self.line(at))

    def key(self, at: int) -> tuple[Path, int]:
        parts: list[str] = []
        while match := KEY.match(self.text, at):
            parts.append(match[1].strip("\"'"))
            at = match.end()
            if not match[2]:
                break
        return tuple(parts), at

    def table(self, at: int) -> tuple[Path, int]:
        """A header [a.b] or [[a.b]]: its path and where it ends."""
        double = self.text.startswith("[[", at)
        parts, end = self.key(at + (2 if double else 1))
        path: Path = ()
        for part in parts:  # inside a list of tables, keys belong to its last one
            path += (part,)
            if path in self.counts and path != parts:
                path += (self.counts[path] - 1,)
        if double:
            self.counts[path] = self.counts.get(path, 0) + 1
            self.note(path, at, owns=False)
            path += (self.counts[path] - 1,)
        self.note(path, at, owns=True)
        newline = self.text.find("\n", end)
        return path, len(self.text) if newline < 0 else newline

    def pair(self, table: Path, at: int) -> int:
        """`key = value` from `at`: where it ends."""
        parts, end = self.key(at)
        equals = self.text.find("=", end)
        newline = self.text.find("\n", end)
        if not parts or equals < 0 or 0 <= newline < equals:
            return len(self.text) if newline < 0 else newline + 1  # not a pair: tomllib has said so
        self.note(table + parts, at, owns=True)
        return self.value(table + parts, equals + 1)

    def value(self, path: Path, at: int) -> int:
        at = BLANK.match(self.text, at).end()
        if self.text.startswith("[", at):
            return self.entries(path, at + 1)
        if self.text.startswith("{", at):
            at = BLANK.match(self.text, at + 1).end()
            while at < len(self.text) and self.text[at] != "}":
                at = BLANK.match(self.text, self.pair(path, at)).end()
                if self.text.startswith(",", at):
                    at = BLANK.match(self.text, at + 1).end()
            return at + 1
        match = STRING.match(self.text, at) or BARE.match(self.text, at)
        return match.end()

    def entries(self, path: Path, at: int) -> int:
        index = 0
        at = BLANK.match(self.text, at).end()
        while at < len(self.text) and self.text[at] != "]":
            before = at
            self.note((*path, index), at, owns=False)
            at = BLANK.match(self.text, self.value((*path, index), at)).end()
            if self.text.startswith(",", at):
                at = BLANK.match(self.text, at + 1).end()
            if at == before:  # broken text: step on rather than stand still
                at += 1
            index += 1
        return at + 1


def key_lines(text: str) -> KeyLines:
    """Line numbers (from 1) of everything that has a name or a place in a list.

    Works on broken text too, as far as it goes: it is also used to find what is given twice.
    """
    walk = _Walk(text, [0, *(match.end() for match in re.finditer("\n", text))])
    table: Path = ()
    at = BLANK.match(text, 0).end()
    while at < len(text):
        before = at
        if text[at] == "[":
            table, at = walk.table(at)
        else:
            at = walk.pair(table, at)
        at = BLANK.match(text, max(at, before + 1)).end()
    return KeyLines(walk.lines, tuple(walk.repeats))
