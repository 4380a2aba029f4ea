"""What was typed wrongly, in one line: what it was, what is taken there, and where it can be guessed what was meant."""

import re
from difflib import get_close_matches
from shlex import quote
from typing import Any

import typer

UsageError = typer.BadParameter.__base__  # of whatever library reads the command line
HELP_ITSELF = "NoArgsIsHelpError"  # no fault: a command that shows its help where nothing is given
CHECKERS_WORDS = "Value error, "  # what the library that checks options puts before the reason
NUMBERS = {"int": "a whole number", "float": "a number"}
BOUNDS = {"less_than_equal": ("at most", "le"), "greater_than_equal": ("at least", "ge")}  # by the checker's name: in words, its key
EXAMPLES = {"DAYS": 14, "PERCENT": 45, "MM": 1.02, "HZ": 442, "°C": 20}  # by what an option calls its value; else 3, a sweep or a spare
DAYS_IN = {"day": 1, "week": 7}
NUMBERED = ("--count", "--sweep")  # options that a bare number left over is meant for
SECOND = ("--as-left",)  # the same of a second recording
OF_STRINGS = ("STRING", "NUMBER|STRING")  # what is one string by what it is called in the help
OF_WORDS = ("TEXT", "NAME", "DATE", "DATE|none", "MATERIAL")  # what may have several words
_STRING = re.compile(r"\d{1,2}[A-Ga-g]")
_EXTRA = re.compile(r"Got unexpected extra arguments?(?:\(s\))? \((.*)\)\.?")
UNITS = ("", "%", "mm", "hz", "°c", "c", "°")


def wrong_use_words(error: Any) -> str:
    """One line for a fault that the reader of the command line found."""
    error.message = (error.message or "").removeprefix(CHECKERS_WORDS)
    said = _no_number(error) or _out_of_range(error) or _too_many(error) or error.format_message().rstrip(".")
    meant, more = _meant(error), f" See '{error.ctx.command_path} --help'" if error.ctx else ""
    stop = "" if said.endswith("?") else "."
    return f"{said}{f'{stop} {meant}' if meant else stop if more else ''}{more}"


def _no_number(error: Any) -> str:
    """ "--humidity takes a number, as in --humidity 45, not '35%'"; "" for another fault."""
    found = _checked(error)
    kind = next((words for name, words in NUMBERS.items() if found and str(found.get("type", "")).startswith(f"{name}_")), "")
    if not kind:
        return ""
    name, metavar = _name(error), getattr(error.param, "metavar", None) or ""
    option = f"{name} " if name.startswith("-") else ""
    return f"{name} takes {kind}, as in {option}{_figure(str(found['input']), metavar)}, not {str(found['input'])!r}"


def _out_of_range(error: Any) -> str:
    """ "--lead-time is at most 730, not 999999"; "" for another fault."""
    found = _checked(error)
    if found.get("type") not in BOUNDS:
        return ""
    words, key = BOUNDS[found["type"]]
    return f"{_name(error)} is {words} {str(found['ctx'][key]).removesuffix('.0')}, not {found['input']}"


def _too_many(error: Any) -> str:
    extra = _EXTRA.fullmatch(error.message)
    return f"'{extra[1]}' stands where nothing more is taken" if extra else ""


def _figure(text: str, metavar: str) -> str:
    """The number that was meant, where it can be read; else an example."""
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(\D*?)\s*", text)
    number, unit = (found[1].replace(",", "."), found[2].casefold()) if found else ("", "?")
    if number.isdecimal() and metavar == "DAYS" and unit.rstrip("s") in DAYS_IN:
        return str(int(number) * DAYS_IN[unit.rstrip("s")])
    return number if unit in UNITS and metavar != "DAYS" else str(EXAMPLES.get(metavar, 3))


def _meant(error: Any) -> str:
    """ "Did you mean --why broke?"; "" where nobody can tell."""
    if extra := _EXTRA.fullmatch(error.message):
        return _meant_by_extra(extra[1], error.ctx) if error.ctx else ""
    found = re.match(r"'(.*?)' is not one of (.*)", error.message)
    if not found or error.param is None:
        return ""
    choices = re.findall(r"'(.*?)'", found[2])
    near = get_close_matches(found[1].casefold(), choices, 1, 0.6) or [word for word in _in_the_log(found[1]) if word in choices]
    name = _name(error)
    return f"Did you mean {f'{name} ' if name.startswith('-') else ''}{quote(near[0])}?" if near else ""


def _meant_by_extra(text: str, ctx: Any) -> str:
    takes = NUMBERED if text.isdecimal() else SECOND if re.fullmatch(r"\S+\.\w+", text) else ()
    option = next((name for one in ctx.command.params for name in one.opts if name in takes), "")
    if option:
        return f"Did you mean {option} {text}?"
    given = [one for one in ctx.command.params if getattr(ctx.get_parameter_source(one.name), "name", "") == "COMMANDLINE"]
    if all(map(_STRING.fullmatch, text.split())):
        return "Give one string at a time." if any(one.metavar in OF_STRINGS for one in given) else ""
    days = next((one for one in given if one.metavar == "DAYS"), None)
    if days is not None and text.rstrip("s") in DAYS_IN:
        return f"Did you mean {days.opts[0]} {_figure(f'{ctx.params[days.name]} {text}', 'DAYS')}?"
    return "What belongs together goes between quotes." if any(one.metavar in OF_WORDS for one in given) else ""


def _in_the_log(text: str) -> list[str]:
    """The log's own word for why a string came off, or where it broke, as a typed notebook is read."""
    from toneprobe.notebook.cells import BROKE_AT_WORDS, WHY_WORDS

    return [word for words in (WHY_WORDS, BROKE_AT_WORDS) for word, parts in words if any(part in text.casefold() for part in parts)]


def _checked(error: Any) -> dict[str, Any]:
    """What the library that checks values found first: its kind and the value; {} where it was another."""
    errors = getattr(error.__cause__, "errors", None)
    return errors()[0] if callable(errors) and errors() else {}


def _name(error: Any) -> str:
    options = [one for one in getattr(error.param, "opts", ()) if one.startswith("--")]
    return options[0] if options else str(getattr(error.param, "metavar", None) or error.param.name or "").upper()
