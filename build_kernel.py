"""Compiles the C half of the physics: with `cc` if it works, else with the locked ziglang wheel's compiler.

Needs the standard library only. What comes out depends on the C files, the flags and the kind of machine,
never on the CPU at hand. `./run` calls it before it installs anything from this folder; the wheel's hook
does too.
"""

import hashlib
import os
import platform
import shutil
import subprocess
import sys
import sysconfig
from importlib.util import find_spec
from pathlib import Path

HERE = Path(__file__).resolve().parent
SOURCE = HERE / "src" / "warmside" / "physics" / "march.c"
PARTS = (SOURCE, *sorted(SOURCE.parent.glob("march_*.h")))
TARGET = SOURCE.with_name("march.so")
STAMP = SOURCE.with_name("march.so.stamp")
COMPILER_LOCK = HERE / "requirements-build.lock"
ZIG_CACHE = str(HERE / "build" / "zig-cache")
CALCULATION = (
    "-std=c11",
    "-O3",
    "-ffp-contract=off",
    "-fno-trapping-math",
    "-fno-math-errno",
    "-fopenmp-simd",
)
WARNINGS = ("-Wall", "-Wextra", "-Wconversion")
SHARED = ("-fPIC", "-shared", "-fvisibility=hidden")
LIBRARIES = ("-lm",)
BASELINE = {"x86_64": ("-march=x86-64",), "AMD64": ("-march=x86-64",)}.get(platform.machine(), ())


class NoCompiler(Exception):  # noqa: N818
    """No C compiler works here."""


def compilers() -> dict[str, list[str]]:
    """Commands of the compilers that are here, by name, the preferred one first, set to the baseline CPU."""
    found = {}
    if cc := shutil.which("cc"):
        found["cc"] = [cc, *BASELINE]
    if find_spec("ziglang"):
        found["zig"] = [sys.executable, "-m", "ziglang", "cc", "-mcpu=baseline"]
    return found


def succeeds(*command: str) -> bool:
    """Whether a command works; if not, what it says goes to standard error."""
    # Without these, zig would keep its cache in the user's home.
    environment = os.environ | {"ZIG_GLOBAL_CACHE_DIR": ZIG_CACHE, "ZIG_LOCAL_CACHE_DIR": ZIG_CACHE}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        print(done.stderr, file=sys.stderr)
    return done.returncode == 0


def compiled_by(name: str, target: Path) -> bool:
    """Whether the compiler of that name is there and makes the kernel."""
    command = compilers().get(name)
    return command is not None and succeeds(
        *command, *CALCULATION, *WARNINGS, *SHARED, "-o", str(target), str(SOURCE), *LIBRARIES
    )


def zig_is_there() -> bool:
    """Whether ziglang can be used, once its lock has been installed here if it was missing."""
    pip_install = (sys.executable, "-m", "pip", "install", "--quiet", "--require-hashes", "-r")
    return "zig" in compilers() or succeeds(*pip_install, str(COMPILER_LOCK))


def build() -> None:
    """Makes march.so beside march.c, unless the one there is of these sources, these flags and this machine.

    Raises NoCompiler when neither compiler works.
    """
    flags = " ".join((*CALCULATION, *WARNINGS, *SHARED, *LIBRARIES, *BASELINE, sysconfig.get_platform()))
    wanted = hashlib.sha256(b"".join(part.read_bytes() for part in PARTS) + flags.encode()).hexdigest()
    if TARGET.exists() and STAMP.exists() and STAMP.read_text() == wanted:
        return
    STAMP.unlink(missing_ok=True)
    made = TARGET.with_name(f"march.{os.getpid()}.so")
    if not compiled_by("cc", made) and not (zig_is_there() and compiled_by("zig", made)):
        raise NoCompiler(
            "No working C compiler: `cc` is missing or fails, and the ziglang package could not stand in."
            " Install one (Debian, Ubuntu: apt install gcc libc6-dev) and run this again."
        )
    made.replace(TARGET)
    STAMP.write_text(wanted)


if __name__ == "__main__":
    try:
        build()
    except NoCompiler as problem:
        sys.exit(str(problem))
