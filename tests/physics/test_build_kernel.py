"""Compiling the kernel at set-up: which compiler is taken, when nothing is done, what is said without one."""

import os
import runpy
from pathlib import Path

import pytest

import build_kernel
from build_kernel import NoCompiler


@pytest.fixture
def target(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the library goes in these tests; the installed one is left alone."""
    made = tmp_path / "march.so"
    monkeypatch.setattr(build_kernel, "TARGET", made)
    monkeypatch.setattr(build_kernel, "STAMP", tmp_path / "march.so.stamp")
    return made


def compile_with(monkeypatch: pytest.MonkeyPatch, *working: str) -> list[str]:
    """Lets compilers of these names work, and no other; gives the names as they are tried."""
    tried: list[str] = []

    def compiled(name: str, there: Path) -> bool:
        tried.append(name)
        if name in working:
            there.write_bytes(b"library")
        return name in working

    monkeypatch.setattr(build_kernel, "compiled_by", compiled)
    monkeypatch.setattr(build_kernel, "zig_is_there", lambda: "zig" in working)
    return tried


def test_a_machine_without_a_compiler_is_told_what_to_install(
    target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = compile_with(monkeypatch)
    with pytest.raises(
        NoCompiler, match=r"No working C compiler: .* Install one \(.*gcc.*\) and run this again"
    ):
        build_kernel.build()
    assert tried == ["cc"]
    assert not target.exists()
    assert not build_kernel.STAMP.exists()


def test_set_up_ends_with_that_sentence_and_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there = tmp_path / "build_kernel.py"
    there.write_text(Path(build_kernel.__file__).read_text())
    sources = tmp_path / "src" / "warmside" / "physics"
    sources.mkdir(parents=True)
    for part in build_kernel.PARTS:
        (sources / part.name).write_text(part.read_text())
    # No `cc` on an empty path, no ziglang to be found, and a lock that can't be installed.
    monkeypatch.setitem(os.environ, "PATH", str(tmp_path))
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    monkeypatch.setattr(
        "subprocess.run", lambda *words, **how: type("Done", (), {"returncode": 1, "stderr": ""})
    )
    with pytest.raises(SystemExit) as told:
        runpy.run_path(str(there), run_name="__main__")
    assert str(told.value).startswith("No working C compiler: `cc` is missing or fails")


def test_the_other_compiler_stands_in(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tried = compile_with(monkeypatch, "zig")
    build_kernel.build()
    assert tried == ["cc", "zig"]
    assert target.read_bytes() == b"library"


def test_what_is_up_to_date_is_left_alone(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tried = compile_with(monkeypatch, "cc")
    build_kernel.build()
    build_kernel.build()
    assert tried == ["cc"]
    monkeypatch.setattr(build_kernel, "CALCULATION", (*build_kernel.CALCULATION, "-g"))
    build_kernel.build()
    assert tried == ["cc", "cc"]
    assert list(target.parent.glob("march.[0-9]*.so")) == []
