"""Puts the compiled kernel into the wheel and marks the wheel as one for this kind of machine."""

import runpy
import shutil
import sysconfig
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class KernelHook(BuildHookInterface[Any]):
    """Compiles the kernel before the wheel is packed."""

    def dependencies(self) -> list[str]:
        """The locked compiler wheel where there is no `cc`."""
        lock = Path(self.root) / "requirements-build.lock"
        pins = [line.split()[0] for line in lock.read_text().splitlines() if line.startswith("ziglang==")]
        return [] if shutil.which("cc") else pins

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compiles, and names the platform in the wheel's tag."""
        runpy.run_path(str(Path(self.root) / "build_kernel.py"))["build"]()
        platform = sysconfig.get_platform().replace("-", "_").replace(".", "_")
        build_data["pure_python"] = False
        build_data["tag"] = f"py3-none-{platform}"
