"""One thread for linear algebra: on the many small arrays here, several only wait for each other."""

import os

LIBRARIES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def use_one_thread() -> None:
    """For this process and those that it starts, where the user has not said otherwise; must come before numpy is loaded."""
    for name in LIBRARIES:
        os.environ.setdefault(name, "1")
