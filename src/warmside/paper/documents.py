"""All job papers of one answer: made in memory first, then put in their places as one set or not at all.

One file for each reader, beside the order, the cut list, the drawings and results.json. What an earlier run
made of another input is removed. The same answers and date give the same bytes.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from errno import EISDIR
from functools import partial
from itertools import count
from pathlib import Path

from warmside.answers import Answers, WallAnswer, results_json
from warmside.paper.crew import crew_paper
from warmside.paper.dxf import dxf
from warmside.paper.earlier import Made, digest, tidy
from warmside.paper.elevation import beside, elevation, pages
from warmside.paper.front import front_sheet
from warmside.paper.inspector import inspector_paper
from warmside.paper.office import office_paper
from warmside.paper.owner import owner_paper
from warmside.paper.swap import swap_in
from warmside.paper.typeset import SHEETS
from warmside.paper.workbook import cut_list, order_workbook
from warmside.runs import Stopped, Watch
from warmside.say import Note, Voice

READERS = ("crew", "inspector", "owner", "quote", "office")
PAPERS: Mapping[str, Callable[[Answers, Voice, str], bytes]] = {
    "crew": crew_paper,
    "inspector": inspector_paper,
    "owner": owner_paper,
    "office": office_paper,
}
"""The readers that have a paper of their own, and who makes it."""
DRAWN_AT = 20.0
"""Labels of a whole wall in one file are seated for this scale, 1:20."""
RESERVED = re.compile(r"con|prn|aux|nul|com\d|lpt\d", re.IGNORECASE)
"""Names that some systems keep for devices."""


class ReaderError(ValueError):
    """A paper was asked for a reader whom no paper is made for; the message lists the readers."""


@dataclass(frozen=True)
class Papers:
    """What was written, in the order of writing, what earlier runs left and was removed, and what to tell."""

    paths: tuple[Path, ...]
    removed: tuple[Path, ...]
    notes: tuple[Note, ...]


Part = Callable[[], Mapping[str, bytes]]
"""Makes some files: their places below the folder, and their bytes."""


def write_papers(
    answers: Answers,
    folder: Path,
    voice: Voice,
    readers: AbstractSet[str],
    date: str,
    watch: Watch | None = None,
) -> Papers:
    """Write the papers of these readers into a folder, which is made if it is missing.

    readers : some of READERS; the front sheet, the order and the results come with each
    date : printed as it is given

    Raises ReaderError; OSError where the folder can't be written; Stopped where the watch says so. Nothing is
    written before everything is made.
    """
    unknown = sorted(readers - set(READERS))
    if unknown:
        raise ReaderError(f"{unknown[0]!r} is no reader of papers; choose from {', '.join(READERS)}")
    made = _made(_parts(answers, voice, readers, date), watch)
    _make_room(folder, made)
    swap_in(folder, made)
    files = {name: digest(content) for name, content in made.items()}
    told = answers.results
    tidied = tidy(folder, Made(told.input_id, told.version, files))
    notes = [Note("paper.removed", {"file": name}) for name in tidied.removed]
    notes += [Note("paper.stays", {"file": name}) for name in tidied.changed]
    removed = tuple(folder / name for name in tidied.removed)
    return Papers(tuple(folder / name for name in made), removed, (*notes, *not_yet(readers)))


def _make_room(folder: Path, names: Iterable[str]) -> None:
    """The folders of all files, before the first is written. Raises OSError where something is in the way."""
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise IsADirectoryError(EISDIR, f"{name} is a folder")


def not_yet(readers: AbstractSet[str]) -> tuple[Note, ...]:
    """A note for each reader whose paper this version does not make."""
    missing = [reader for reader in READERS if reader in readers and reader not in PAPERS]
    return tuple(Note("paper.not_yet", {"reader": Note(f"paper.reader.{reader}")}) for reader in missing)


def _made(parts: Sequence[Part], watch: Watch | None) -> dict[str, bytes]:
    """Every file in memory; the watch is asked before each part."""
    made: dict[str, bytes] = {}
    for done, part in enumerate(parts, 1):
        if watch is not None and watch.stop():
            raise Stopped
        made.update(part())
        if watch is not None:
            watch.step(done, len(parts), "paper.making")
    return made


def _parts(answers: Answers, voice: Voice, readers: AbstractSet[str], date: str) -> list[Part]:
    parts: list[Part] = [lambda: {"front.pdf": front_sheet(answers, voice, date)}]
    parts += [partial(_paper, reader, answers, voice, date) for reader in PAPERS if reader in readers]
    parts.append(lambda: {"order.xlsx": order_workbook(answers, voice, date)})
    if any(each.wall.level == 2 for each in answers.walls):
        parts.append(lambda: {"cutlist.csv": cut_list(answers.walls, voice, answers.inside)})
    parts.append(lambda: {"results.json": results_json(answers.results)})
    parts.append(lambda: _drawings(answers, voice))
    if "office" in readers:
        parts.append(lambda: _plans(answers, voice))
    return parts


def _paper(reader: str, answers: Answers, voice: Voice, date: str) -> dict[str, bytes]:
    """The paper of one reader."""
    return {f"{reader}.pdf": PAPERS[reader](answers, voice, date)}


def _drawings(answers: Answers, voice: Voice) -> dict[str, bytes]:
    """The pages of every wall as SVG."""
    made: dict[str, bytes] = {}
    for name, each in _named(answers.walls):
        drawn = pages(each, voice, SHEETS[voice.system], beside(answers.walls, each))
        for number, picture in enumerate(drawn, 1):
            made[f"drawings/{name}-{number}.svg"] = picture.svg.encode("utf-8")
    return made


def _plans(answers: Answers, voice: Voice) -> dict[str, bytes]:
    """Every wall whole as DXF."""
    made: dict[str, bytes] = {}
    for name, each in _named(answers.walls):
        drawn = elevation(each, voice, beside(answers.walls, each), DRAWN_AT)
        made[f"drawings/{name}.dxf"] = dxf(drawn, DRAWN_AT).encode("utf-8")
    return made


def _named(walls: Sequence[WallAnswer]) -> Iterator[tuple[str, WallAnswer]]:
    """Walls with names that every file system takes, no two alike."""
    yield from zip(safe_names([each.wall.name for each in walls]), walls, strict=True)


def safe_names(names: Sequence[str]) -> list[str]:
    """For each name letters, digits, - and _ of ASCII, none empty, and no two alike even without case."""
    taken: set[str] = set()
    safe: list[str] = []
    for name in names:
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
        stem = re.sub(r"[^A-Za-z0-9_]+", "-", plain).strip("-")
        stem = stem if stem and not RESERVED.fullmatch(stem) else f"wall-{stem}".rstrip("-")
        numbered = (f"{stem}-{number}" for number in count(2))
        free = (
            stem if stem.casefold() not in taken else next(n for n in numbered if n.casefold() not in taken)
        )
        taken.add(free.casefold())
        safe.append(free)
    return safe
