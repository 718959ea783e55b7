"""Order of the house: a module imports only modules that stand before it, and every module has its place."""

import ast
from pathlib import Path

import warmside

PACKAGE = Path(warmside.__file__).parent

# Left to right, then down. A new module gets its place here.
HOUSE = """
units say runs
physics.air physics.water physics.materials physics.resistance physics.batts
physics.grid physics.conduction
physics.ground_rules physics.ground_surface physics.ground physics.response physics.frost
physics.moist_wall physics.forcing physics.transport physics.kernel physics.marching
physics.soil_impedance
physics.march_rates
physics.sun physics.weather physics.synthesis physics.weather_files physics.room_log physics.snow
physics.monthly_surface physics.monthly physics.damage physics.companion
catalog.data_fault catalog.goods catalog.kinds catalog.data_files
catalog.climate_tables catalog.climates catalog.design_values catalog.codes catalog.hazards
job.survey job.every_wall job.lines job.faults
job.listed_place
job.findings job.sizes job.labels job.spots job.counted job.stock job.cross job.read job.write job.record
job.assume job.openings job.existing job.inside job.corners job.resolve job.closing job.walk_through
job.walk_text
wall.frame wall.in_the_way
cutting.rules cutting.pieces cutting.patterns cutting.every_way cutting.columns cutting.knife cutting.nesting
cutting.inside cutting.widths cutting.barriers
study.layers study.r_value
study.heat_data study.as_found study.ground_job study.standard study.outdoors study.basement study.money
study.cold study.frost_job
study.heat study.proof study.dryness study.misses
order.order order.quote
rules.facts rules.things rules.vapour rules.found rules.clauses rules.told rules.may_we_start
plan heat_answer rules_answer doubts worked cut_notes answers measure_next options
paper.lettering paper.drawing paper.leaders paper.labels paper.chains paper.svg paper.dxf_library
paper.dxf paper.pages
paper.typeset paper.picture paper.wall_shapes paper.bay_numbers paper.wall_words paper.wall_key
paper.elevation paper.wall_sheets paper.phrases paper.piece_drawing paper.plan_map paper.alike paper.bag_card
paper.assumed paper.saves paper.front paper.inspector
paper.first_results paper.checked paper.survey_form paper.crew paper.owner
paper.contours paper.ground_picture paper.month_chart paper.office_heat paper.office
paper.workbook paper.earlier paper.swap paper.documents
web.server
checks.registry checks.walls checks.trade checks.cutting checks.heat checks.saving checks.damage
checks.moisture checks.march checks.judging checks.weather checks.rules checks.report checks
new_job cli __main__ fleet
"""
ORDER = HOUSE.split()


def modules() -> dict[str, Path]:
    """Every module by its name inside the package; a package's own file by the package's name."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported(source: str, known: set[str]) -> set[str]:
    """Modules of this package that a source imports anywhere, also only for types or inside a function."""
    wanted = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            wanted += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = "warmside.by.dots" if node.level else node.module
            wanted += [f"{base}.{alias.name}" for alias in node.names]
    inside = [full.removeprefix("warmside.") for full in wanted if full.startswith("warmside.")]
    return {full if full in known else full.rpartition(".")[0] for full in inside} - {""}


def breaches(name: str, source: str, known: set[str]) -> list[str]:
    """What a module imports although it may not; a package's own file without a place may import nothing."""
    allowed = ORDER[: ORDER.index(name)] if name in ORDER else []
    return [f"{name} imports {other}" for other in sorted(imported(source, known)) if other not in allowed]


def test_every_module_has_its_place_once() -> None:
    packages = {name for name, path in modules().items() if path.name == "__init__.py"}
    assert sorted(set(modules()) - set(ORDER) - packages) == []
    assert len(ORDER) == len(set(ORDER))


def test_modules_import_only_what_stands_before_them() -> None:
    known = set(modules())
    found = [breach for name, path in modules().items() for breach in breaches(name, path.read_text(), known)]
    assert found == []


def test_a_breach_is_seen_however_it_is_written() -> None:
    known = set(ORDER)
    for source in (
        "import warmside.catalog.goods",
        "from warmside.catalog import goods",
        "from warmside.catalog.goods import Batt",
        "def f():\n    from warmside.catalog import goods",
    ):
        assert breaches("physics.air", source, known) == ["physics.air imports catalog.goods"]
    assert breaches("physics.air", "from . import units", known) == ["physics.air imports by.dots"]
    assert breaches("physics", "from warmside import units", known) == ["physics imports units"]
    assert breaches("catalog.codes", "from warmside.catalog import goods\nimport numpy", known) == []
