"""The command line: thin, over the same functions as everything else. Heavy imports stand inside commands.

Exit status: 0 the work was done, whatever the verdict; 2 the input can't be used (nothing written);
1 a fault of ours or a failed check; 130 interrupted.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from datetime import date as calendar_date
from errno import ENOSPC
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from warmside.catalog.data_fault import DataFileError

if TYPE_CHECKING:
    from warmside.answers import Answers
    from warmside.job.read import ReadResult
    from warmside.say import Note, Voice

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="From a tape-measure survey of a basement to an insulated wall that stays dry.",
)


def _folder(written: str) -> Path:
    """A folder by its name; a blank one would quietly be the folder that one stands in."""
    if not written.strip():
        raise typer.BadParameter("name a folder; for the one that you stand in write a dot")
    return Path(written)


Folder = Annotated[
    Path, typer.Argument(metavar="FOLDER", parser=_folder, help="The job folder; it holds job.toml.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Machine-readable output on standard output.")]


def _flag(words: str) -> Any:
    """An option without a default to show."""
    return typer.Option(help=words, show_default=False)


def _say(lines: Iterable[str], *, err: bool = False) -> None:
    for line in lines:
        _tell(line, err=err)


def _tell(text: str, *, err: bool = False) -> None:
    """One text; who reads only the beginning of it, as `head` does, has had enough, and all is well."""
    try:
        typer.echo(text, err=err)
    except BrokenPipeError as gone:
        # What Python still holds for the closed pipe must not complain at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(0) from gone


def _voice(read: ReadResult) -> Voice:
    from warmside.say import Voice

    return Voice(read.survey.show if read.survey else "ft-in")


def _refuse(faults: Sequence[Note], voice: Voice, *, writes: bool) -> typer.Exit:
    """Every fault on standard error, and exit status 2."""
    _say((voice.located(fault) for fault in faults), err=True)
    _say([voice.line("cli.faults_papers" if writes else "cli.faults", count=len(faults))], err=True)
    return typer.Exit(2)


def _answered(folder: Path, *, writes: bool) -> tuple[Answers, Voice]:
    """Read and answer a job, or leave with status 2 and every fault told."""
    from warmside.answers import JobError, answer
    from warmside.job.read import read_with_files

    read = read_with_files(folder)
    voice = _voice(read)
    if read.survey is None or read.faults:
        raise _refuse(read.faults, voice, writes=writes)
    try:
        return answer(read.survey, folder, read.warnings), voice
    except JobError as error:
        raise _refuse([_in_file(fault) for fault in error.faults], voice, writes=writes) from error


def _in_file(fault: Note) -> Note:
    """A fault of the geometry, told with the file that it comes from."""
    from dataclasses import replace

    from warmside.job.read import JOB_FILE

    return replace(fault, where=replace(fault.where, file=fault.where.file or JOB_FILE))


@app.command()
def new(
    folder: Folder,
    yes: Annotated[bool, typer.Option("--yes", help="Ask nothing; what no flag answers is unknown.")] = False,
    paper: Annotated[
        bool, typer.Option("--paper", help="Only print a blank survey form into FOLDER.")
    ] = False,
    name: Annotated[
        str | None, typer.Option(help="What the job is called; the folder's name if not said.")
    ] = None,
    show: Annotated[str, typer.Option(help="Lengths as ft-in or mm.")] = "ft-in",
    place: Annotated[str | None, _flag("Town, province or state, country.")] = None,
    year: Annotated[str | None, _flag("Year in which it was built.")] = None,
    upstairs: Annotated[
        str | None, _flag("Frame of the outside walls upstairs: 2x3, 2x4, 2x6, 2x8, masonry or logs.")
    ] = None,
    foundation: Annotated[str | None, _flag("poured concrete, concrete block, stone, brick or wood.")] = None,
    walls: Annotated[
        str | None, _flag('Each wall and what is behind it: "24 ft, 16 ft garage"; or "80 ft total".')
    ] = None,
    height: Annotated[str | None, _flag("Floor to the top of the concrete.")] = None,
    showing: Annotated[str | None, _flag('Concrete showing outside: "6 in to 20 in".')] = None,
    frame: Annotated[
        str | None, _flag('none, planned or standing; or all of it: "standing 2x4 at 16 in".')
    ] = None,
    studs: Annotated[str | None, _flag('"2x4 at 16 in".')] = None,
    gap: Annotated[str | None, _flag('Concrete to the back of the studs: "1/2 in to 1 in".')] = None,
    rim: Annotated[str | None, _flag("Height of the rim.")] = None,
    joists: Annotated[str | None, _flag('Walls on which joists land: "A, C"; or all, or none.')] = None,
    counts: Annotated[str | None, _flag('"9 boxes, 3 windows, 1 door, 4 pipes".')] = None,
    existing: Annotated[str | None, _flag('What is on the walls: none, or "batt, vapour barrier".')] = None,
    signs: Annotated[
        str | None, _flag('What stops the work: none, or what you see, "water, old wrap, no mould".')
    ] = None,
    water: Annotated[str | None, _flag("Signs of water: yes or no.")] = None,
    flame: Annotated[str | None, _flag("A flame that takes its air from the room: yes or no.")] = None,
) -> None:
    """Ask the questions of a first walk through the basement, write a job folder, say the first results.

    Enter means unknown, "?" explains. Every question can be answered by its flag instead, as in
    --walls "24 ft, 16 ft garage, 24 ft" or --walls "80 ft total".
    """
    from warmside import new_job
    from warmside.say import Voice

    given = {key: value for key, value in locals().items() if key in new_job.KEYS and value is not None}
    if show not in ("ft-in", "mm"):
        raise _usage(f"--show {show}: choose ft-in or mm")
    voice = Voice("mm" if show == "mm" else "ft-in")
    try:
        if paper:
            _say(new_job.print_form(folder, voice))
            return
        new_job.refuse_if_taken(folder)
        asks = not yes and sys.stdin.isatty()
        walk = new_job.walked(name or folder.resolve().name, voice, given, _ask if asks else None)
        _say(new_job.write_job(folder, walk, voice))
    except new_job.NewJobError as error:
        raise _usage(voice.text(error.note)) from error


def _ask(lines: Sequence[str]) -> str:
    """One question on the terminal; the end of input answers nothing."""
    _say(lines)
    try:
        return input("> ")
    except EOFError:
        typer.echo()
        return ""


@app.command()
def check(folder: Folder, as_json: AsJson = False) -> None:
    """Tell all that is wrong with a job, in plain words with line numbers. Writes nothing."""
    from warmside.measure_next import measure_next
    from warmside.paper.checked import checked, checked_table

    answers, voice = _answered(folder, writes=False)
    onward = measure_next(answers.survey)
    if as_json:
        import json

        _tell(json.dumps(checked_table(answers, onward, voice), indent=2))
        return
    _say(checked(answers, onward, voice))


@app.command()
def papers(
    folder: Folder,
    readers: Annotated[
        str, typer.Option("--for", help="crew, inspector, owner, quote, office or all; several with commas.")
    ] = "all",
    out: Annotated[
        str | None, typer.Option(metavar="DIR", help="Where the papers go; FOLDER/papers if not said.")
    ] = None,
    date: Annotated[
        str | None, typer.Option(help="The date on the papers, as 2026-11-25; today if not said.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Make the job papers: front sheet, a paper for each reader, drawings, cut list, order."""
    from warmside.paper.documents import READERS, write_papers
    from warmside.paper.phrases import told_once

    wanted = {word.strip() for word in readers.split(",")}
    unknown = wanted - {*READERS, "all"}
    if unknown:
        raise _usage(f"--for {sorted(unknown)[0] or '(nothing)'}: choose from {', '.join(READERS)} or all")
    if out is not None and not out.strip():
        raise _usage("--out: name a folder for the papers, or leave --out away for FOLDER/papers")
    day = _day(date)
    answers, voice = _answered(folder, writes=True)
    chosen = set(READERS) if "all" in wanted else wanted
    target = folder / "papers" if out is None else Path(out)
    try:
        made = write_papers(answers, target, voice, chosen, day)
    except OSError as error:
        raise _usage(voice.line("cli.cant_write", folder=target, why=error.strerror or "")) from error
    _say(told_once(voice, answers.warnings, with_lines=True), err=True)
    if as_json:
        import json

        told = {"papers": made.paths, "removed": made.removed}
        _tell(json.dumps({key: [str(path) for path in paths] for key, paths in told.items()}, indent=2))
        return
    _say(str(path) for path in made.paths)
    _say(voice.text(note) for note in made.notes)
    _say([voice.line("cli.papers", count=len(made.paths), folder=target)])


def _day(written: str | None) -> str:
    """The date on the papers; "today" is read here, once, and nowhere else."""
    if written is None:
        return calendar_date.today().isoformat()
    try:
        return calendar_date.fromisoformat(written).isoformat()
    except ValueError as error:
        raise _usage(f"--date {written}: write the date like 2026-11-25") from error


def _usage(sentence: str) -> typer.Exit:
    typer.echo(sentence, err=True)
    return typer.Exit(2)


@app.command()
def verify(as_json: AsJson = False) -> None:
    """Run the published checks on this machine: source, published, computed, tolerance."""
    from warmside import checks

    results = checks.run_checks()
    if as_json:
        import json

        _tell(json.dumps(checks.report_json(results), indent=2))
    else:
        _say(checks.report_lines(results))
    if not all(result.passed for result in results):
        raise typer.Exit(1)


def main() -> None:
    """Entry point: interrupted work exits with 130, a broken table of ours with 1, a full disk with 2."""
    try:
        app()
    except KeyboardInterrupt:
        sys.exit(130)
    except DataFileError as error:
        from warmside.say import Voice

        _say([Voice().line("cli.broken_table", why=error)], err=True)
        sys.exit(1)
    except OSError as error:
        if error.errno != ENOSPC:
            raise
        from warmside.say import Voice

        _say([Voice().line("cli.no_space")], err=True)
        sys.exit(2)


if __name__ == "__main__":
    main()
