"""The DXF library takes nothing from the machine and leaves nothing on it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = """
import os, sys
sys.path.insert(0, sys.argv[1])
os.chdir(sys.argv[2])
from warmside.paper.dxf import dxf
from test_dxf import SCALE, sample
print(dxf(sample(), SCALE))
"""
STRAY = """[core]
write_fixed_meta_data_for_testing = false
default_dimension_text_style = Stray
filter_invalid_xdata_group_codes = false
support_dirs = /nowhere
"""


def drawn(folder: Path, home: Path) -> subprocess.CompletedProcess[bytes]:
    """The sample as another process writes it in a folder, with a home."""
    unset = ("XDG_CONFIG_HOME", "XDG_CACHE_HOME", "EZDXF_CONFIG_FILE")
    kept = {name: value for name, value in os.environ.items() if name not in unset}
    env = {**kept, "HOME": str(home), "PYTHONIOENCODING": "utf-8"}
    here = str(Path(__file__).parent)
    return subprocess.run([sys.executable, "-c", SCRIPT, here, str(folder)], env=env, capture_output=True)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("plain")
    done = drawn(folder, folder)
    assert (done.returncode, done.stderr) == (0, b"")
    assert list(folder.iterdir()) == []
    return done.stdout


@pytest.mark.parametrize("stray", [STRAY.encode(), b"no settings at all", "[core]".encode("utf-16")])
def test_stray_settings_are_not_read(plain: bytes, tmp_path: Path, stray: bytes) -> None:
    for place in (tmp_path / "ezdxf.ini", tmp_path / ".config" / "ezdxf" / "ezdxf.ini"):
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(stray)
    done = drawn(tmp_path, tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == plain


def test_a_home_that_is_none_is_no_matter(plain: bytes, tmp_path: Path) -> None:
    """A file in the home's place can be neither searched nor written, whoever runs the test."""
    (tmp_path / "home").write_text("not a folder")
    done = drawn(tmp_path, tmp_path / "home")
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == plain
    assert [path.name for path in tmp_path.iterdir()] == ["home"]
