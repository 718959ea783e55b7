"""The wheel as a stranger gets it: built here, installed away from this folder, and put to work."""

import os
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "demo" / "birch-lane"
HEAVY = ("numpy", "scipy", "pydantic", "ezdxf", "typst", "rich", "fontTools", "xlsxwriter")


def run(*command: str | Path, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Runs a command with nothing of this folder in its way."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "PYTEST"))}
    return subprocess.run([*command], cwd=cwd, env=clean, capture_output=True, text=True, check=False)


def done(*command: str | Path, cwd: Path = ROOT) -> str:
    """Standard output of a command that must work."""
    result = run(*command, cwd=cwd)
    assert result.returncode == 0, result.stderr
    return result.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built without build isolation: what it is built with is in the lock."""
    folder = tmp_path_factory.mktemp("wheel")
    pip_wheel = (sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation")
    done(*pip_wheel, "--wheel-dir", folder, ROOT)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def bin_folder(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Programs of an environment that holds the wheel only; the running one lends it the libraries."""
    home = tmp_path_factory.mktemp("installed")
    venv.create(home, with_pip=False)
    python = home / "bin" / "python"
    packages = Path(done(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())
    (packages / "lent.pth").write_text(sysconfig.get_path("purelib"))
    pip = (sys.executable, "-m", "pip", "--python", python)
    done(*pip, "install", "--quiet", "--no-deps", "--no-index", "--force-reinstall", wheel)
    return python.parent


def test_it_holds_the_kernel_and_the_data_and_no_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert "warmside/physics/march.so" in names
    assert "warmside/py.typed" in names
    data = {path.relative_to(ROOT / "src").as_posix() for path in (ROOT / "src/warmside/data").rglob("*.*")}
    assert data
    assert data - set(names) == set()
    folders = {name.partition("/")[0] for name in names}
    assert sorted(name for name in folders if not name.startswith("warmside-")) == ["warmside"]
    assert not [name for name in names if "test" in name or name.endswith((".stamp", ".pyc"))]


def test_it_is_for_this_kind_of_machine_and_any_python_3(wheel: Path) -> None:
    assert wheel.name.startswith("warmside-")
    assert "-py3-none-" in wheel.name
    assert not wheel.name.endswith("-any.whl")


def test_the_installed_kernel_works_away_from_the_clone(bin_folder: Path, tmp_path: Path) -> None:
    program = """if True:
        import numpy, warmside
        from warmside.physics.kernel import solve_block_tridiagonal
        two = numpy.array([[[[2.0, 0.0], [0.0, 4.0]]]])
        print(warmside.__file__)
        print(solve_block_tridiagonal(0 * two, two, 0 * two, numpy.ones((1, 1, 2))).values.tolist())
    """
    where, answer = done(bin_folder / "python", "-c", program, cwd=tmp_path).splitlines()
    assert Path(where).is_relative_to(bin_folder.parent)
    assert answer == "[[[0.5, 0.25]]]"


def test_help_is_there(bin_folder: Path, tmp_path: Path) -> None:
    shown = done(bin_folder / "warmside", "--help", cwd=tmp_path)
    for word in ("check", "papers", "verify"):
        assert word in shown


def test_starting_takes_no_heavy_library(bin_folder: Path, tmp_path: Path) -> None:
    program = f"import sys, warmside.cli; print([name for name in {HEAVY} if name in sys.modules])"
    assert done(bin_folder / "python", "-c", program, cwd=tmp_path) == "[]\n"


def test_it_makes_the_papers_of_a_demo_house(bin_folder: Path, tmp_path: Path) -> None:
    job, papers = tmp_path / "job", tmp_path / "papers"
    shutil.copytree(DEMO, job, ignore=shutil.ignore_patterns("papers", "cache"))
    done(bin_folder / "warmside", "papers", job, "--out", papers, cwd=tmp_path)
    made = {path.suffix for path in papers.rglob("*")}
    assert {".pdf", ".xlsx", ".csv", ".svg", ".json"} <= made
    assert all(path.stat().st_size > 0 for path in papers.rglob("*") if path.is_file())


def test_verify_passes(bin_folder: Path, tmp_path: Path) -> None:
    assert done(bin_folder / "warmside", "verify", cwd=tmp_path)
