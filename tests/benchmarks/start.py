"""How soon the program answers: python tests/benchmarks/start.py

Prints the time of `toneprobe --help` over that of loading the library of its command line alone, each the shortest of several runs. About
twice means that nothing heavy is loaded before it is needed (`tests/test_house.py` names what is heavy).
"""

import subprocess
import sys
import time

RUNS = 9
ALONE, PROGRAM = ("import typer, typer.main, rich.console",), ("from toneprobe.cli import main; main()", "--help")


def shortest_s(*arguments: str) -> float:
    def took_s() -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", *arguments], check=True, capture_output=True)
        return time.perf_counter() - start

    return min(took_s() for _ in range(RUNS))


def main() -> None:
    alone_s, program_s = shortest_s(*ALONE), shortest_s(*PROGRAM)
    print(f"--help: {program_s:.2f} s, {program_s / alone_s:.2f} times what typer alone takes ({alone_s:.2f} s)")


if __name__ == "__main__":
    main()
