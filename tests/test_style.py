"""House rules that a machine can check: sizes, docstrings and the units in them, paths, locks."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from statistics import median

import pytest

import warmside

PACKAGE = Path(warmside.__file__).parent
ROOT = Path(__file__).parent.parent
SOURCES = sorted(PACKAGE.rglob("*.py"))
TREES = {path: ast.parse(path.read_text()) for path in SOURCES}

Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions() -> Iterator[tuple[str, Function]]:
    """Every function of the package, under `file:name`."""
    for path, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, Function):
                yield f"{path.name}:{node.name}", node


def body_length(function: Function) -> int:
    """Lines of a function less its docstring."""
    docstring = function.body[0] if ast.get_docstring(function) is not None else None
    return lines_of(function) - (lines_of(docstring) if docstring else 0)


def lines_of(node: ast.stmt) -> int:
    """Lines that a statement takes."""
    return (node.end_lineno or node.lineno) - node.lineno + 1


def test_files_stay_under_600_lines() -> None:
    written = [*SOURCES, *PACKAGE.rglob("*.c"), *(ROOT / "tests").rglob("*.py")]
    assert [path.name for path in written if len(path.read_text().splitlines()) > 600] == []


def test_every_module_says_what_it_is() -> None:
    silent = [str(path.relative_to(PACKAGE)) for path, tree in TREES.items() if not ast.get_docstring(tree)]
    assert silent == []


def test_functions_stay_short() -> None:
    lengths = {name: body_length(function) for name, function in functions()}
    assert median(lengths.values()) < 8
    long = {name: length for name, length in lengths.items() if length > 40}
    assert len(long) <= 5, long


def test_nothing_points_outside_the_package() -> None:
    # A path that climbs out, or starts at the root of a disk.
    outside = re.compile(r"""\.\./|["'`\s(]/(work|home|root|tmp|usr|opt|etc|var)\b|[A-Za-z]:\\\\""")
    kinds = {".py", ".c", ".toml", ".typ", ".csv", ".json"}
    found = [
        f"{path.relative_to(PACKAGE)}:{number}"
        for path in PACKAGE.rglob("*")
        if path.suffix in kinds
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if outside.search(line)
    ]
    assert found == []


# ---- units in the docstrings of the physics ----------------------------------------------------------------

BASE = "m|mm|s|min|h|d|a|g|kg|K|C|Pa|kPa|W|kW|J|kJ|MJ|rad|deg|bit|mol|%|1"
FACTOR = rf"(?:{BASE})(?:\d|\^[\da-z.]+)?"
PRODUCT = rf"{FACTOR}(?:\.{FACTOR})*"
UNIT = re.compile(rf"\[(-|unit of .+|{PRODUCT}(?:/(?:{FACTOR}|\({PRODUCT}\)))?)\]$")
# A number, an array or a row of numbers; not a count, a table or a function of numbers.
NUMBERS = re.compile(r"^((tuple|list|Sequence|Iterable)\[)?(float|FloatArray|Array|Numbers)\b")
ENTRY = re.compile(r"^(\s*)(\w+) : ")


def entries(docstring: str) -> dict[str, str]:
    """Each `name : text` of a docstring with its further lines, which stand deeper."""
    found: dict[str, str] = {}
    name, indent = "", 0
    for line in docstring.splitlines():
        if start := ENTRY.match(line):
            name, indent = start[2], len(start[1])
            found[name] = line.strip()
        elif name and line.strip() and len(line) - len(line.lstrip()) > indent:
            found[name] += " " + line.strip()
        else:
            name = ""
    return found


def numeric_names(node: Function | ast.ClassDef) -> set[str]:
    """Arguments of a function, or fields of a class, that are annotated as numbers."""
    if isinstance(node, ast.ClassDef):
        fields = [part for part in node.body if isinstance(part, ast.AnnAssign)]
        told = {ast.unparse(part.target): ast.unparse(part.annotation) for part in fields}
    else:
        arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        told = {part.arg: ast.unparse(part.annotation) for part in arguments if part.annotation}
    return {name for name, annotation in told.items() if NUMBERS.search(annotation)}


def without_unit(tree: ast.Module) -> list[str]:
    """Entries of docstrings that describe a number and don't end with its unit."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, Function | ast.ClassDef):
            told, numbers = entries(ast.get_docstring(node) or ""), numeric_names(node)
            found += [text for name, text in told.items() if name in numbers and not UNIT.search(text)]
    return found


@pytest.mark.parametrize("path", sorted((PACKAGE / "physics").glob("*.py")), ids=lambda path: path.stem)
def test_numbers_are_documented_with_their_unit(path: Path) -> None:
    assert without_unit(TREES[path]) == []


RIGHT = ["[W/(m.K)]", "[m2.K/W]", "[-]", "[m3/(s.Pa^n)]", "[1/m2]", "[unit of the values]"]
WRONG = ["[W/m.K]", "[W/mK]", "[°C]", "[W/m²]", "[W/m/K]", "[degC]", ""]


@pytest.mark.parametrize(("unit", "is_right"), [*((u, True) for u in RIGHT), *((u, False) for u in WRONG)])
def test_the_unit_check_can_tell(unit: str, is_right: bool) -> None:
    told = f'"""One.\n\n    x : some\n        thing {unit}\n    name : any\n    """'
    source = f"def f(x: float, name: str) -> None:\n    {told}"
    assert (without_unit(ast.parse(source)) == []) is is_right


# ---- locks -------------------------------------------------------------------------------------------------


def pins(lock: str) -> dict[str, str]:
    """Version of each package in a lock."""
    return dict(re.findall(r"^([a-z0-9-]+)==(\S+)", (ROOT / lock).read_text(), re.MULTILINE))


def test_locks_agree_and_hold_hashes_but_no_addresses() -> None:
    run, tools, dev, mutants = (
        pins(f"requirements{part}.lock") for part in ("", "-build", "-dev", "-mutants")
    )
    both = run | tools | dev
    assert {name: version for name, version in mutants.items() if both.get(name, version) != version} == {}
    assert {name: dev[name] for name in dev if name in run | tools} == {
        name: version for name, version in (run | tools).items() if name in dev
    }
    for lock in (f"requirements{part}.lock" for part in ("", "-build", "-dev", "-mutants")):
        text = (ROOT / lock).read_text()
        assert not re.search(r"://|--(index|extra-index|find|trusted)", text.replace("--no-emit-", ""))
        assert len(re.findall(r"^[a-z0-9-]+==\S+ \\\n    --hash=", text, re.MULTILINE)) == len(pins(lock))


def test_the_lock_covers_what_the_package_needs() -> None:
    project = (ROOT / "pyproject.toml").read_text()
    wanted = re.search(r"^dependencies = \[(.*?)^\]", project, re.MULTILINE | re.DOTALL)
    assert wanted
    names = [re.split(r"[^A-Za-z0-9-]", line)[0].lower() for line in re.findall(r'"(.+?)"', wanted[1])]
    assert sorted({*names, "hatchling", "editables"} - set(pins("requirements.lock"))) == []
