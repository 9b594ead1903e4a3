"""Questions on a terminal for what no option said."""

from __future__ import annotations

import sys
from collections.abc import Callable

import click


def on_a_terminal() -> bool:
    """Whether somebody sees a question and can answer it."""
    return sys.stdin.isatty() and sys.stdout.isatty()


class Questions:
    """Takes values from options, and asks for those that were not given.

    Parameters
    ----------
    asks : bool
        Whether to ask at all; else what is needed must be given.
    """

    def __init__(self, asks: bool) -> None:
        self.asks = asks

    def needed(self, option: str, question: str, given: str | None, read: Callable[[str], str]) -> str:
        """Return a value that there must be.

        Parameters
        ----------
        option : str
            How it is given on the command line.
        question : str
            How it is asked for.
        given : str or None
            What the option said.
        read : callable
            Takes the text and returns the value; raises ValueError with what would be right.
        """
        if given is not None:
            return _read(option, given, read)
        if not self.asks:
            raise click.UsageError(f"{option} is missing, and nobody is there to be asked")
        return str(click.prompt(question, value_proc=_asked(read)))

    def optional(self, option: str, question: str, given: str | None, read: Callable[[str], str], default: str = "") -> str | None:
        """Return a value that may be left out; see `needed`.

        Parameters
        ----------
        option, question, given, read
            As above.
        default : str
            What holds if nothing is said; an empty one stands for None.
        """
        if given is None and not self.asks:
            return default or None
        if given is not None:
            return _read(option, given, read)
        hint = f"{question} [{default or 'Enter: leave out'}]"
        answer = click.prompt(hint, default=default, show_default=False, value_proc=_asked(read, empty=True))
        return answer or None


def _asked(read: Callable[[str], str], empty: bool = False) -> Callable[[str], str]:
    """Return a reader whose complaint has the question asked again."""

    def read_or_complain(text: str) -> str:
        if empty and not text:
            return ""
        try:
            return read(text)
        except ValueError as problem:
            raise click.UsageError(str(problem)) from None

    return read_or_complain


def _read(option: str, given: str, read: Callable[[str], str]) -> str:
    try:
        return read(given)
    except ValueError as problem:
        raise click.BadParameter(str(problem), param_hint=option) from None


def one_line(text: str) -> str:
    """Return text as one line of words; raise ValueError if there is none, or a character that nobody can see."""
    line = " ".join(text.split())
    if not line:
        raise ValueError("at least one word belongs here")
    if not line.isprintable():
        raise ValueError("there is a character in it that cannot be shown; write it again")
    return line


def one_of(choices: list[str]) -> Callable[[str], str]:
    """Return a reader that takes one of the choices, however large or small its letters.

    Parameters
    ----------
    choices : list of str
        As they are written.
    """
    by_fold = {choice.casefold(): choice for choice in choices}

    def read(text: str) -> str:
        try:
            return by_fold[" ".join(text.split()).casefold()]
        except KeyError:
            raise ValueError(f'"{text}" is not known here; write one of {", ".join(choices)}') from None

    return read
