"""The package run as a module."""

import subprocess
import sys

from toneprobe import __version__


def test_the_package_runs_as_a_module():
    said = subprocess.run([sys.executable, "-m", "toneprobe", "--version"], capture_output=True, text=True, check=True)
    assert __version__ in said.stdout
