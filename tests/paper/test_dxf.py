"""DXF: read back by its library's auditor, full size, and the same bytes in another process."""

import os
import subprocess
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.filemanagement
import pytest

from warmside.paper.drawing import Circle, Dimension, Drawing, Line, Polyline, Rect, Text
from warmside.paper.dxf import dxf
from warmside.paper.lettering import fonts_folder

SCALE = 20.0


def sample() -> Drawing:
    return Drawing(
        (
            Rect(0, 0, 4000, 2400, "wall", "in the ground"),
            Rect(0, 0, 4000, 2400, "wall", "outline"),
            Line((0, 2000), (4000, 2000), "sheet edge: upper", "hold"),
            Polyline(((0, 1500), (4000, 1200)), "ground line", "ground"),
            Polyline(((0, 0), (100, 0), (50, 90)), "marks", "solid", closed=True),
            Circle((900, 300), 30, "electrical box", "thing"),
            Circle((900, 300), 9, "electrical box", "solid"),
            Rect(9, 9, 9, 9, "marks", "solid"),
            Text((1000, 1000), "stays dry ≤ 3", "answers"),
            Text((1500, 700), "bay\n7", "bay marks", 3.5, rotation=90, bold=True),
            Dimension((0, 0), (4000, 0), -200, "13 ft 1-1/2 in"),
        ),
        "Wall C",
    )


@pytest.fixture(scope="module")
def written() -> str:
    return dxf(sample(), SCALE)


@pytest.fixture(scope="module")
def read(written: str) -> Any:
    return ezdxf.filemanagement.read(StringIO(written))


def test_the_file_is_clean(read: Any) -> None:
    auditor = read.audit()
    assert auditor.errors == []
    assert auditor.fixes == []


def test_lengths_are_millimetres_at_full_size(read: Any) -> None:
    assert read.header["$INSUNITS"] == 4
    (outline,) = read.modelspace().query('LWPOLYLINE[layer=="wall"]')
    assert [tuple(p[:2]) for p in outline.get_points()] == [(0, 0), (4000, 0), (4000, 2400), (0, 2400)]
    assert outline.closed


def test_layers_have_plain_names(read: Any) -> None:
    names = {layer.dxf.name for layer in read.layers}
    assert names >= {"wall", "ground line", "electrical box", "bay marks", "dimensions", "sheet edge- upper"}


def test_text_height_is_the_cap_height_at_scale(read: Any) -> None:
    heights = {
        t.dxf.text: (t.dxf.height, t.dxf.style, t.dxf.rotation) for t in read.modelspace().query("TEXT")
    }
    assert heights == {
        "stays dry ≤ 3": (50.0, "plain", 0),
        "bay": (70.0, "bold", 90),
        "7": (70.0, "bold", 90),
        "13 ft 1-1/2 in": (50.0, "plain", 0),
    }
    assert {
        (fonts_folder() / style.dxf.font).exists() for style in read.styles if style.dxf.name != "Standard"
    } == {True}


def test_dashes_are_at_scale(read: Any) -> None:
    (ground,) = read.modelspace().query('LWPOLYLINE[layer=="ground line"]')
    assert (ground.dxf.linetype, ground.dxf.lineweight) == ("ground", 70)
    pattern = [tag.value for tag in read.linetypes.get("ground").pattern_tags.tags if tag.code == 49]
    # 5, 1.2, 1 and 1.2 mm of paper times 20; gaps are negative in the format.
    assert pattern == [100.0, -24.0, 20.0, -24.0]


def test_only_solid_fills_are_kept(read: Any) -> None:
    hatches = read.modelspace().query("HATCH")
    assert [h.dxf.pattern_name for h in hatches] == ["SOLID"] * 3


def test_same_bytes_in_another_process_at_another_time(written: str) -> None:
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); from test_dxf import *; print(dxf(sample(), SCALE))"
    )
    env = {**os.environ, "PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "PYTHONIOENCODING": "utf-8"}
    here = str(Path(__file__).parent)
    done = subprocess.run([sys.executable, "-c", script, here], env=env, capture_output=True, check=True)
    assert done.stdout.decode("utf-8") == written + "\n"


def test_the_library_setting_is_put_back() -> None:
    library: Any = ezdxf
    before = library.options.write_fixed_meta_data_for_testing
    dxf(Drawing((), "nothing"), SCALE)
    assert library.options.write_fixed_meta_data_for_testing is before is False
