"""How hard a pluck was pulled, by its pitch glide, whatever the recorder's gain (see `measure.glide`)."""

from toneprobe import limits


def squared_pull(glide_cents: float) -> float:
    """For ratios between plucks, cents: the glide, which goes with the square of the pull, and a little more, so that it is never 0."""
    return max(glide_cents, 0.0) + limits.LEAST_GLIDE_CENTS
