"""Say what a figure was measured on."""

import os
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

PACKAGES = ("numpy", "numba", "pandas", "typst")


def machine() -> str:
    """Return the machine and the versions that matter, in one line."""
    names = [f"Python {platform.python_version()}"]
    for package in PACKAGES:
        try:
            names.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            names.append(f"{package} not installed")
    return (
        f"{os.cpu_count()} cores, {_processor()}, {platform.system()}; {', '.join(names)}{_load()}"
    )


def _load() -> str:
    """Say how busy the machine is with other work, where the system tells."""
    if not hasattr(os, "getloadavg"):
        return ""
    return f"; load average before the start {os.getloadavg()[0]:.1f}"


def _processor() -> str:
    """Return the name of the processor; on Linux the kernel knows more than Python does."""
    kernel = Path("/proc/cpuinfo")
    if kernel.exists():
        for line in kernel.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()
