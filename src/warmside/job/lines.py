"""Where each key stands in a TOML text, so that a fault can name its line.

A light scanner over the tokens of TOML 1.0: table headers, arrays of tables, dotted and quoted keys, strings
of all four kinds, arrays and inline tables, comments. It checks nothing and never raises: on a text that is
no TOML the lines it gives are a guess. Keys deeper than `DEEPEST` take the line of the key around them.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

KeyPath = tuple[str | int, ...]

DEEPEST = 20

_TOKEN = re.compile(
    r'(?P<string>"""(?:[^"\\]|\\.|"{1,2}(?!"))*+(?:"{3,5}|\\?\Z)'
    r"|'''(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|\Z)"
    r'|"(?:[^"\\\n]|\\[^\n])*+"?'
    r"|'[^'\n]*+'?)"
    r"|(?P<comment>\#[^\n]*+)"
    r"|(?P<newline>\n)"
    r"|(?P<mark>[\[\]{}=,.])"
    r"|(?P<bare>[^\s\[\]{}=,.\"'\#]++)",
    re.DOTALL,
)


@dataclass(frozen=True)
class _Token:
    """A piece of the text: a string, a bare word, a single mark, or the end of a line."""

    kind: str
    text: str
    line: int

    def key(self) -> str:
        """The key that this token writes, its quotes and escapes read."""
        if self.kind == "bare":
            return self.text
        if "\\" not in self.text:
            return self.text[1:-1]
        try:
            return str(tomllib.loads(f"key = {self.text}")["key"])
        except tomllib.TOMLDecodeError:
            return self.text[1:-1]


@dataclass(frozen=True)
class Lines:
    """The line of every key and of every element of an array, and of all headers, counted from 1."""

    found: Mapping[KeyPath, int]
    headers: tuple[int, ...] = ()

    def line(self, path: KeyPath) -> int | None:
        """The line of `path`, or of the nearest key or table around it; None where none is written."""
        ends = range(min(len(path), 2 * DEEPEST), 0, -1)
        return next((self.found[path[:end]] for end in ends if path[:end] in self.found), None)


def locate(text: str) -> Lines:
    """The line of each key in a TOML text."""
    scanner = _Scanner(_tokens(text))
    scanner.scan()
    return Lines(scanner.found, tuple(scanner.headers))


def _tokens(text: str) -> Iterator[_Token]:
    line = 1
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup
        if kind is not None and kind != "comment":
            yield _Token(kind, match[0], line)
        line += match[0].count("\n")


_END = _Token("end", "", 0)


@dataclass
class _Open:
    """An array or inline table that is being read; `index` counts the elements of an array."""

    path: KeyPath
    is_array: bool
    index: int = 0

    @property
    def element(self) -> KeyPath:
        """The path of the element that comes next."""
        return (*self.path, self.index)


@dataclass
class _Scanner:
    """Walks the tokens statement by statement; `table` is the header that keys stand under."""

    tokens: Iterator[_Token]
    found: dict[KeyPath, int] = field(default_factory=dict)
    counts: dict[KeyPath, int] = field(default_factory=dict)
    headers: list[int] = field(default_factory=list)
    table: KeyPath = ()
    here: _Token = _END

    def scan(self) -> None:
        """Read all statements to the end of the text."""
        self.next()
        while self.here is not _END:
            if self.here.text == "[" and self.here.kind == "mark":
                self.header()
                self.skip_line()
            elif self.here.kind in ("bare", "string"):
                self.key_value(self.table)
                self.skip_line()
            else:
                self.next()

    def next(self) -> None:
        """Go one token on."""
        self.here = next(self.tokens, _END)

    def mark(self, text: str) -> bool:
        """True, and one token on, where the mark `text` stands here."""
        if self.here.kind != "mark" or self.here.text != text:
            return False
        self.next()
        return True

    def skip_line(self) -> None:
        """Go to the end of the line."""
        while self.here.kind not in ("newline", "end"):
            self.next()

    def note(self, path: KeyPath, line: int) -> None:
        """Remember where `path` was first written."""
        self.found.setdefault(path, line)

    def keys(self, base: KeyPath) -> KeyPath:
        """Read a dotted key under `base`; every part of it stands on this line."""
        path = base
        while self.here.kind in ("bare", "string"):
            if len(path) < DEEPEST:
                path = (*path, self.here.key())
                self.note(path, self.here.line)
            self.next()
            if not self.mark("."):
                break
        return path

    def header(self) -> None:
        """`[a.b]` or `[[a.b]]`, inside the last element of any array of tables that it passes."""
        line = self.here.line
        self.headers.append(line)
        self.next()
        is_array = self.mark("[")
        path = self.keys_in_array(())
        while self.mark("."):
            path = self.keys_in_array(path)
        if is_array:
            self.counts[path] = self.counts.get(path, -1) + 1
            path = (*path, self.counts[path])
            self.note(path, line)
        self.table = path

    def keys_in_array(self, base: KeyPath) -> KeyPath:
        """One part of a header, under the last element of `base` where that is an array of tables."""
        if self.here.kind not in ("bare", "string"):
            return base
        base = (*base, self.counts[base]) if base in self.counts else base
        if len(base) < DEEPEST:
            base = (*base, self.here.key())
            self.note(base, self.here.line)
        self.next()
        return base

    def key_value(self, base: KeyPath) -> None:
        """`key = value`, the value with all that it holds."""
        path = self.keys(base)
        if self.mark("="):
            self.value(path)

    def value(self, path: KeyPath) -> None:
        """A value: read to its end, the keys and elements inside it noted."""
        stack = self.opened(path)
        while stack and self.here is not _END:
            inside = stack[-1]
            if self.mark("]") or self.mark("}"):
                stack.pop()
            elif self.here.kind == "newline":
                self.next()
            elif self.mark(","):
                inside.index += 1
            elif inside.is_array:
                stack.extend(self.element(inside.element))
            else:
                stack.extend(self.entry(inside.path))

    def element(self, path: KeyPath) -> list[_Open]:
        """An element of an array."""
        if len(path) <= DEEPEST:
            self.note(path, self.here.line)
        return self.opened(path)

    def entry(self, base: KeyPath) -> list[_Open]:
        """An entry of an inline table, or whatever stands in its place."""
        path = self.keys(base)
        if self.mark("="):
            return self.opened(path)
        if self.here.kind == "mark" and self.here.text in "[{=.":
            self.next()
        return []

    def opened(self, path: KeyPath) -> list[_Open]:
        """The array or inline table that begins here, or nothing once a plain value was passed."""
        if self.mark("["):
            return [_Open(path[: DEEPEST + 1], is_array=True)]
        if self.mark("{"):
            return [_Open(path[: DEEPEST + 1], is_array=False)]
        while self.here.kind in ("bare", "string") or (self.here.kind == "mark" and self.here.text in ".="):
            self.next()
        return []
