"""The compiled block solve: right against other solvers and exact answers, same bits wherever it is built."""

import platform
import re
import subprocess
from ctypes import CDLL, c_double, c_void_p
from ctypes.util import find_library
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import solve_banded

import build_kernel
from warmside.physics import kernel
from warmside.physics.kernel import KernelInput, KernelMissing, solve_block_tridiagonal

FloatArray = npt.NDArray[np.float64]
DRIVER = Path(__file__).with_name("march_driver.c")
COMPILERS = list(build_kernel.compilers())


class Systems(NamedTuple):
    """Block-tridiagonal systems of several walls."""

    lower: FloatArray
    diag: FloatArray
    upper: FloatArray
    rhs: FloatArray


def dominant(walls: int, cells: int, seed: int) -> Systems:
    """Entries in -1..1, and 8 on the diagonal: the other five entries of a row sum to 5 at most."""
    lower, diag, upper = np.random.default_rng(seed).uniform(-1.0, 1.0, (3, walls, cells, 2, 2))
    rhs = np.random.default_rng(seed + 1).uniform(-1.0, 1.0, (walls, cells, 2))
    return Systems(lower, diag + 8.0 * np.eye(2), upper, rhs)


def dense(lower: FloatArray, diag: FloatArray, upper: FloatArray) -> FloatArray:
    """The whole matrix of one wall, written from the definition."""
    cells = len(diag)
    matrix = np.zeros((cells, 2, cells, 2))
    for i in range(cells):
        matrix[i, :, i, :] = diag[i]
        if i > 0:
            matrix[i, :, i - 1, :] = lower[i]
        if i < cells - 1:
            matrix[i, :, i + 1, :] = upper[i]
    return matrix.reshape(2 * cells, 2 * cells)


def bands(matrix: FloatArray) -> FloatArray:
    """The seven bands as solve_banded takes them: band 3 + row - column, at the column."""
    size = len(matrix)
    packed = np.zeros((7, size))
    for offset in range(-3, 4):
        rows = np.arange(max(0, offset), min(size, size + offset))
        packed[3 + offset, rows - offset] = matrix[rows, rows - offset]
    return packed


# Both sides are backward stable, and such dominant rows bound the condition number by (9 + 5) / (7 - 5) = 7:
# some hundred roundings of 1.1e-16 part the two answers by about 1e-14 of a solution no larger than 1/2.
CLOSE = 1e-13


@pytest.mark.parametrize("cells", [1, 2, 3, 60])
def test_agrees_with_dense_and_banded_solvers(cells: int) -> None:
    systems = dominant(11, cells, seed=cells)
    ours = solve_block_tridiagonal(*systems)
    assert (ours.singular_cell == -1).all()
    for wall in range(11):
        matrix, flat = dense(*(part[wall] for part in systems[:3])), systems.rhs[wall].ravel()
        assert np.abs(ours.values[wall].ravel() - np.linalg.solve(matrix, flat)).max() < CLOSE
        if cells > 1:
            other = solve_banded((3, 3), bands(matrix), flat)
            assert np.abs(ours.values[wall].ravel() - other).max() < CLOSE


def test_solves_a_chain_whose_answer_is_known() -> None:
    # -p(i-1) + 2 p(i) - p(i+1) = 1, p = 0 beyond the ends: p(i) = i (n + 1 - i) / 2. Here p and -4 p, mixed.
    cells, mix = 60, np.array([[3.0, 1.0], [-2.0, 5.0]])
    i = np.arange(1.0, cells + 1.0)
    exact = np.outer(i * (cells + 1.0 - i) / 2.0, [1.0, -4.0])
    block = np.broadcast_to(mix, (1, cells, 2, 2))
    ours = solve_block_tridiagonal(-block, 2.0 * block, -block, np.full((1, cells, 2), mix @ [1.0, -4.0]))
    # The condition number is 4 (n + 1)^2 / pi^2 = 1508 times 2.4 for the mixing: 4e-13 per rounding unit.
    np.testing.assert_allclose(ours.values[0], exact, rtol=0.0, atol=2e-12 * np.abs(exact).max())


@given(st.integers(1, 10), st.integers(1, 6), st.data())
def test_gives_back_whole_numbers(walls: int, cells: int, data: st.DataObject) -> None:
    random = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    lower, diag, upper = random.integers(-3, 4, (3, walls, cells, 2, 2)).astype(float)
    diag = diag + 24.0 * np.eye(2)
    chosen = random.integers(-9, 10, (walls, cells, 2)).astype(float)
    # Products of small whole numbers are exact, so the right-hand side carries no error.
    whole = [dense(lower[wall], diag[wall], upper[wall]) @ chosen[wall].ravel() for wall in range(walls)]
    rhs = np.array(whole).reshape(walls, cells, 2)
    ours = solve_block_tridiagonal(lower, diag, upper, rhs)
    assert np.abs(ours.values - chosen).max() < 9.0 * CLOSE


def test_blocks_beyond_both_ends_are_not_used() -> None:
    systems = dominant(3, 5, seed=3)
    plain = solve_block_tridiagonal(*systems).values
    systems.lower[:, 0] = 1e6
    systems.upper[:, -1] = -1e6
    assert solve_block_tridiagonal(*systems).values.tobytes() == plain.tobytes()


def test_scaling_rows_and_columns_by_powers_of_two_is_exact() -> None:
    # An energy row in joules beside a water row in kilograms, a temperature beside a logarithm of pressure.
    rows, columns = np.array([2.0**30, 2.0**-20]), np.array([2.0**-10, 2.0**25])
    systems = dominant(9, 7, seed=5)
    plain = solve_block_tridiagonal(*systems)
    lower, diag, upper = (part * rows[:, None] * columns for part in systems[:3])
    scaled = solve_block_tridiagonal(lower, diag, upper, systems.rhs * rows)
    assert (scaled.values * columns).tobytes() == plain.values.tobytes()
    assert (scaled.singular_cell == -1).all()


def test_a_nearly_singular_block_is_still_solved() -> None:
    tilt = 1.0 + 2.0**-40
    block = np.array([[[[1.0, 1.0], [1.0, tilt]]]])
    ours = solve_block_tridiagonal(0.0 * block, block, 0.0 * block, np.array([[[3.0, 2.0 + tilt]]]))
    # By hand: subtracting the rows leaves 2^-40 y = 2^-40; every step is exact in binary.
    assert ours.values.tolist() == [[[2.0, 1.0]]]


def test_a_singular_wall_is_named_and_the_others_stay_right() -> None:
    systems = dominant(19, 6, seed=7)
    plain = solve_block_tridiagonal(*systems).values
    systems.diag[4, 3], systems.lower[4, 3] = [[1.0, 2.0], [2.0, 4.0]], 0.0
    # Wall 18: elimination leaves [[0.1, 0.2], [0.2, 0.4]] of the second cell's block, but for rounding.
    systems.diag[18, 0], systems.upper[18, 0] = 3.0 * np.eye(2), np.eye(2)
    systems.diag[18, 1] = [[3.0, 1.0], [1.0, 2.0]]
    systems.lower[18, 1] = [[3.0 * 2.9, 3.0 * 0.8], [3.0 * 0.8, 3.0 * 1.6]]
    ours = solve_block_tridiagonal(*systems)
    expected = np.full(19, -1)
    expected[[4, 18]] = 3, 1
    assert ours.singular_cell.tolist() == expected.tolist()
    assert np.isnan(ours.values[[4, 18]]).all()
    others = expected < 0
    assert ours.values[others].tobytes() == plain[others].tobytes()


def test_same_bytes_for_any_number_of_threads() -> None:
    systems = dominant(150, 20, seed=11)
    one = solve_block_tridiagonal(*systems)
    for threads in (2, 7):
        many = solve_block_tridiagonal(*systems, threads=threads)
        assert many.values.tobytes() == one.values.tobytes()


@given(st.integers(0, 40), st.integers(1, 41))
def test_same_bytes_alone_and_in_company(wall: int, company: int) -> None:
    systems = Systems(*(part[:, :4] for part in dominant(41, 60, seed=13)))
    all_of_them = solve_block_tridiagonal(*systems).values
    some = slice(wall, wall + company)
    alone = solve_block_tridiagonal(*Systems(*(part[some] for part in systems))).values
    assert alone.tobytes() == all_of_them[some].tobytes()


GOOD = dominant(2, 3, seed=17)
WITH_NAN = GOOD.rhs.copy()
WITH_NAN[1, 2, 0] = np.nan


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"rhs": GOOD.rhs[0]}, r"rhs: shape \(3, 2\) was given; \(walls, cells, 2\) is right"),
        ({"rhs": GOOD.rhs[:0]}, r"rhs: shape \(0, 3, 2\) was given"),
        ({"upper": GOOD.upper[:, :2]}, r"upper: shape \(2, 2, 2, 2\) was given; \(2, 3, 2, 2\) is right"),
        ({"diag": GOOD.diag.astype("f4")}, r"diag: numbers of type float32 were given; float64 is right"),
        ({"rhs": WITH_NAN}, r"rhs: nan was given at \(1, 2, 0\); every number must be finite"),
        ({"threads": 0}, r"threads: 0 was given; 1 or more is right"),
    ],
)
def test_wrong_input_is_named(wrong: dict[str, FloatArray], message: str) -> None:
    with pytest.raises(KernelInput, match=message):
        solve_block_tridiagonal(**(GOOD._asdict() | wrong))


def test_a_missing_kernel_is_one_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(kernel, "LIBRARY", tmp_path / "march.so")
    kernel._library.cache_clear()
    with pytest.raises(KernelMissing, match=r"march.so, is missing .* `./run test` compiles it"):
        solve_block_tridiagonal(*GOOD)


# ---- the same bits from every compiler, vector width and optimisation --------------------------------------


def fused(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """The product and sum a b + c, rounded once, by the C library [-]."""
    one = CDLL(find_library("m")).fma
    one.argtypes, one.restype = [c_double] * 3, c_double
    return np.array([one(*row) for row in zip(a, b, c, strict=True)])


def times(m: list[FloatArray], n: list[FloatArray], onto: list[FloatArray] | None = None) -> list[FloatArray]:
    """Product of two blocks, or of a block and a pair, added to `onto` as march.c does it [-]."""
    half = len(n) // 2
    made = []
    for place in range(len(n)):
        row, column = place // half, place % half
        last = m[2 * row + 1] * n[half + column]
        if onto is not None:
            last = fused(m[2 * row + 1], n[half + column], onto[place])
        made.append(fused(m[2 * row], n[column], last))
    return made


def by_hand(systems: Systems) -> tuple[FloatArray, FloatArray]:
    """The elimination, operation by operation as in march.c: each rounded once, fused where that says so."""
    lower, diag, upper, rhs = systems

    def entries(blocks: FloatArray) -> list[FloatArray]:
        return list(blocks.reshape(len(blocks), -1).T)

    walls, cells = rhs.shape[:2]
    nothing = [np.zeros(walls)] * 4
    factors, answers, singular = [nothing], [nothing[:2]], np.full(walls, -1.0)
    for i in range(cells):
        low = entries(lower[:, i]) if i > 0 else nothing
        up = entries(upper[:, i]) if i < cells - 1 else nothing
        less = [-p for p in low]
        a, b, c, d = times(less, factors[-1], entries(diag[:, i]))
        sizes = times(*([abs(p) for p in part] for part in (low, factors[-1], entries(diag[:, i]))))
        determinant = fused(a, d, -(b * c))
        broken = ~(abs(determinant) > 2.0**-48 * fused(sizes[0], sizes[3], sizes[1] * sizes[2]))
        singular[broken & (singular < 0.0)] = i
        s = 1.0 / np.where(broken, 1.0, determinant)
        inverse = [d * s, -b * s, -c * s, a * s]
        factors.append(times(inverse, up))
        answers.append(times(inverse, times(less, answers[-1], entries(rhs[:, i]))))
    below = nothing[:2]
    for i in range(cells, 0, -1):
        below = times([-p for p in factors[i]], below, answers[i])
        answers[i] = below
    values = np.array(answers[1:]).transpose(2, 0, 1).copy()
    values[singular >= 0.0] = np.nan
    return values, singular


def cases() -> list[Systems]:
    """One lane group each: usual, one cell, not dominant and one lane singular, huge and tiny numbers."""
    wild = dominant(8, 9, seed=19)
    wild.diag[...] -= 8.0 * np.eye(2)
    wild.diag[5, 4], wild.lower[5, 4] = 0.0, 0.0
    uneven = dominant(8, 30, seed=23)
    uneven.rhs[...] *= np.logspace(-300.0, 300.0, 8)[:, None, None]
    return [dominant(8, 60, seed=29), dominant(8, 1, seed=31), wild, uneven]


@pytest.mark.parametrize("case", range(4))
def test_the_installed_kernel_gives_the_bits_of_the_definition(case: int) -> None:
    systems = cases()[case]
    values, singular = by_hand(systems)
    ours = solve_block_tridiagonal(*systems)
    assert ours.singular_cell.tolist() == singular.tolist()
    assert ours.values[singular < 0].tobytes() == values[singular < 0].tobytes()


# With `cc`, memory and undefined behaviour are watched; zig has no library for memory, and traps the other.
WATCHED = {
    "cc": ["-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-Wno-pass-failed"],
    "zig": ["-g", "-fsanitize=undefined", "-fsanitize-trap=undefined", "-Wno-pass-failed"],
}
# Where the baseline CPU has no fused multiply-add, flags that tempt the compiler with one.
FUSING = {
    ("x86_64", "cc"): ["-march=x86-64-v3"],
    ("x86_64", "zig"): ["-mcpu=x86_64_v3"],
}


def compile_here(compiler: str, *arguments: str) -> None:
    """Compiles with warnings as errors; a failure shows what the compiler said."""
    command = build_kernel.compilers()[compiler]
    strict = (*build_kernel.CALCULATION, *build_kernel.WARNINGS, "-Werror")
    assert build_kernel.succeeds(*command, *strict, *arguments, *build_kernel.LIBRARIES), (
        f"{compiler} failed, see above. If it can't link a sanitizer, install that library:"
        " libasan8 and libubsan1 on Debian 12, libasan and libubsan on Fedora."
    )


@pytest.fixture(scope="session")
def case_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every case at every vector width that this CPU has, as the driver reads them."""
    path = tmp_path_factory.mktemp("march") / "cases"
    with path.open("wb") as file:
        for width in widths():
            for systems in cases():
                cells = systems.rhs.shape[1]
                file.write(np.array([width, cells], np.int64).tobytes())
                for part in in_lanes(systems):
                    file.write(part.tobytes())
    return path


def widths() -> list[int]:
    """Every vector width that this CPU has [bit]."""
    return [width for width in (128, 256, 512) if width <= kernel.vector_width()]


def in_lanes(systems: Systems) -> list[FloatArray]:
    """One lane group as march.c wants it, with nothing beyond both ends."""
    lower, upper = systems.lower.copy(), systems.upper.copy()
    lower[:, 0] = 0.0
    upper[:, -1] = 0.0
    whole = systems._replace(lower=lower, upper=upper)
    return [part.reshape(8, systems.rhs.shape[1], -1).transpose(1, 2, 0) for part in whole]


def expected_output() -> FloatArray:
    """What the driver must write, by the definition; NaN where a lane broke down."""
    one_width = []
    for systems in cases():
        values, singular = by_hand(systems)
        one_width += [values.transpose(1, 2, 0).ravel(), singular]
    return np.concatenate(one_width * len(widths()))


def assert_right_bits(output: bytes) -> None:
    """Compares bit by bit, except where a lane broke down and its numbers mean nothing."""
    expected, found = expected_output(), np.frombuffer(output)
    assert found.size == expected.size
    meant = ~np.isnan(expected)
    assert found[meant].tobytes() == expected[meant].tobytes()


def driver(compiler: str, folder: Path, *flags: str) -> Path:
    """The driver and march.c as one program."""
    program = folder / "driver"
    solve_only = "-DMARCH_SOLVE_ONLY"
    compile_here(compiler, *flags, solve_only, "-o", str(program), str(DRIVER), str(build_kernel.SOURCE))
    return program


def run(program: Path, *arguments: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([program, *arguments], capture_output=True, check=False)


def test_there_is_a_compiler_to_test_with() -> None:
    assert "zig" in COMPILERS, "the development lock brings ziglang; `./run test` installs it"


@pytest.mark.parametrize("optimisation", ["-O3", "-O1"])
@pytest.mark.parametrize("compiler", COMPILERS)
def test_every_compiler_and_width_gives_the_bits_of_the_definition(
    compiler: str, optimisation: str, case_file: Path, tmp_path: Path
) -> None:
    done = run(driver(compiler, tmp_path, optimisation), str(case_file))
    assert done.returncode == 0
    assert_right_bits(done.stdout)


@pytest.mark.parametrize("compiler", COMPILERS)
def test_sanitizers_find_nothing(compiler: str, case_file: Path, tmp_path: Path) -> None:
    program = driver(compiler, tmp_path, *WATCHED[compiler])
    done = run(program, str(case_file))
    assert done.returncode == 0, done.stderr.decode()
    assert_right_bits(done.stdout)
    # The same watch must notice faults made on purpose.
    assert run(program, str(case_file), "misaligned").returncode != 0
    if compiler == "cc":
        assert b"heap-buffer-overflow" in run(program, str(case_file), "short").stderr


@pytest.mark.parametrize("compiler", COMPILERS)
def test_no_more_is_fused_than_the_text_says(compiler: str, tmp_path: Path) -> None:
    # Compiled with every explicit fusion undone: what is left would be a compiler's own doing.
    listing = tmp_path / "march.s"
    tempting = FUSING.get((platform.machine(), compiler), [])
    compile_here(
        compiler,
        *tempting,
        "-Wno-unused-command-line-argument",
        "-DMARCH_UNFUSED",
        "-S",
        "-o",
        str(listing),
        str(build_kernel.SOURCE),
    )
    # The debug sections of a listing need not be UTF-8.
    text = listing.read_text("latin-1")
    fused = [line for line in text.splitlines() if re.match(r"\s+v?fn?m(add|sub|la|ls)", line)]
    assert fused == []
    assert re.search(r"\s(v?div|fdiv)", text)


def test_exponential_and_logarithm_are_as_near_as_they_say(tmp_path: Path) -> None:
    # Limits from march_lanes.h, against the C library's functions of longer numbers.
    source, library = tmp_path / "both.c", tmp_path / "both.so"
    source.write_text(
        f'#include "{build_kernel.SOURCE.with_name("march_lanes.h")}"\n'
        "void both(const double *x, double *e, double *l)\n"
        "{ for (int i = 0; i < 4000; i++) { e[i] = exponential(x[i]); l[i] = logarithm(e[i]); } }\n"
    )
    compile_here(COMPILERS[0], "-fPIC", "-shared", "-o", str(library), str(source))
    x = np.concatenate([np.linspace(-700.0, 700.0, 1999), np.linspace(-1.0, 1.0, 2001)])
    powers, logs = np.empty((2, len(x)))
    CDLL(str(library)).both(*(c_void_p(row.ctypes.data) for row in (x, powers, logs)))
    assert np.abs(powers / np.exp(x.astype(np.longdouble)) - 1.0).max() < 5e-14
    exact = np.log(powers.astype(np.longdouble))
    assert (np.abs(logs - exact) / np.maximum(1.0, np.abs(exact))).max() < 1e-14


@pytest.mark.parametrize("compiler", COMPILERS)
def test_the_shared_library_shows_only_its_own_names(compiler: str, tmp_path: Path) -> None:
    library = tmp_path / "march.so"
    compile_here(compiler, *build_kernel.SHARED, "-o", str(library), str(build_kernel.SOURCE))
    opened = CDLL(str(library))
    assert opened.march_widest() == kernel.vector_width()
    assert not hasattr(opened, "solve_256")
