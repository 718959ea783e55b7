"""Pieces of the moisture measurement: errors that are put in come out, words are understood."""

from dataclasses import replace

import numpy as np
import pytest

from bench import moisture
from bench._moist_cases import WALLS, errors, faces, samples, weather, wood_faces
from bench.moisture import timed
from warmside.physics.marching import USUAL


@pytest.mark.parametrize("name", WALLS)
def test_errors_that_are_put_in_come_out(name: str) -> None:
    told = WALLS[name]
    walls, driven = samples(told, 2), weather(told, 48)
    speed, exact = timed(walls, driven, USUAL)
    assert speed > 0.0
    assert exact.faults == ()
    same = errors(exact, exact, told, walls[0])
    assert same[:7] == (0.0,) * 7
    moved, damp = exact.temperature.copy(), exact.humidity.copy()
    moved[1, 30:, 2] += 0.5
    damp[0, 24 + 6, 3] -= 0.02
    found = errors(replace(exact, temperature=moved, humidity=damp), exact, told, walls[0])
    # 18 of 24 hours at 0.5 K; one hour of 24 at 2 points.
    assert found.max_t == pytest.approx(0.5)
    assert found.rms_t == pytest.approx(0.5 * np.sqrt(18.0 / 24.0))
    assert found.max_h == pytest.approx(2.0)
    assert found.rms_h == pytest.approx(2.0 / np.sqrt(24.0))


def test_wood_is_where_the_file_says() -> None:
    # Faces: outside, two at each of three joints, inside; boards of the rim are the first, batts the third.
    places = {name: wood_faces(told, samples(told, 1)[0]) for name, told in WALLS.items()}
    assert places == {"rim": [0, 1, 4, 5], "above_ground": [4, 5], "below_ground": [4, 5]}
    assert all(len(faces(samples(told, 1)[0])) == 8 for told in WALLS.values())


def test_an_unknown_wall_is_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        moisture.main("attic")
    assert ended.value.code == 2
    assert "No wall is called attic; there are: rim, above_ground, below_ground" in capsys.readouterr().err
