"""Many walls at once: the same bytes for any number of threads, and what the watch hears is a sentence."""

import hashlib

import numpy as np

from tests.physics.moist_walls import faces, weather
from tests.physics.test_march import content, sampled
from warmside.physics.marching import Histories, initial, march_walls
from warmside.say import messages

COUNT, HOURS = 1024, 3


def many(threads: int, watch: "Heard | None" = None) -> Histories:
    """Walls of 19 kinds, each from a start of its own, in frost and in warmth."""
    walls = [sampled(19)[n % 19] for n in range(COUNT)]
    driven = [weather(HOURS, mean) for mean in np.linspace(-15.0, 15.0, 16)]
    start = np.concatenate([initial(walls[n : n + 1], 2.0, 0.6 + 0.35 * n / COUNT) for n in range(COUNT)])
    forcings = [driven[n % 16] for n in range(COUNT)]
    return march_walls(walls, forcings, start, faces(walls[0]), threads=threads, watch=watch)


class Heard:
    """A watch that keeps what it is told."""

    def __init__(self) -> None:
        self.codes: set[str] = set()
        self.last = (0, 0)

    def step(self, done: int, total: int, code: str) -> None:
        self.codes.add(code)
        self.last = (done, total)

    def stop(self) -> bool:
        return False


def digest(out: Histories) -> str:
    return hashlib.sha256(b"".join(content(out, wall) for wall in range(COUNT))).hexdigest()


def test_a_thousand_walls_have_the_same_bytes_with_one_thread_and_two() -> None:
    heard = Heard()
    one, two = many(1), many(2, heard)
    assert one.faults == two.faults == ()
    assert digest(one) == digest(two)
    assert heard.last == (COUNT // 8, COUNT // 8)
    assert heard.codes == {"runs.walls"}
    assert messages("en")["runs.walls"].startswith("Marching the walls")
