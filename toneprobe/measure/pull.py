"""How hard a pluck was pulled, as its pitch glide tells, whatever the recorder's gain (see `measure.glide`)."""

from __future__ import annotations

from toneprobe import limits


def squared_pull(glide_cents: float) -> float:
    """Cents, for ratios between plucks: the glide, which goes with the square of the pull, and a little more that no ear or estimator sees,
    so that it is never 0."""
    return max(glide_cents, 0.0) + limits.LEAST_GLIDE_CENTS
