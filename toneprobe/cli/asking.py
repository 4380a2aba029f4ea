"""Ask before anything is done that cannot be taken back."""

from __future__ import annotations

import typer


def agrees(question: str, *, yes: bool) -> bool:
    """Whether the player agrees; `yes` answers beforehand. Where nobody can answer it is no."""
    if yes:
        return True
    try:
        return typer.confirm(question, default=False, err=True)
    except typer.Abort:
        typer.echo(err=True)
        return False
