"""Tests against a mutant, each time in a fork of a process that has all loaded; the files stay as they are.

A change within a function is put into that function's code in a fork of a test session that has collected its tests: such a
trial costs little more than the tests themselves. A change in what runs as a module is loaded, a constant for example, needs a
session of its own, in a fork that has only the libraries loaded.
"""

from __future__ import annotations

import contextlib
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import inspect
import json
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import coverage
import hypothesis
import pytest

ROOT = Path(__file__).resolve().parents[2]
LIBRARIES = ("numpy", "scipy.optimize", "scipy.stats", "control", "pint", "pydantic", "yaml", "eseries")
QUIETLY = [
    "-q", "-x", "-s", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:cov", "--hypothesis-profile=mutants", "-m", "not ngspice and not browser",
    "-W", "ignore::pytest.PytestAssertRewriteWarning",  # hypothesis is loaded beforehand
]
CAPPED = {-signal.SIGXCPU, -signal.SIGKILL}

hypothesis.settings.register_profile(
    "mutants", deadline=None, derandomize=True, database=None, phases=[hypothesis.Phase.explicit, hypothesis.Phase.generate],
    max_examples=50,  # half of what is usual: fewer mutants may be found out, never more
)


@dataclass(frozen=True)
class Reach:
    """Which tests come by which lines.

    Parameters
    ----------
    times : dict
        Processor time of each test [s].
    lines : dict
        By module: by line, the tests; among them nothing, "", where loading some file came by.
    """

    times: dict[str, float]
    lines: dict[str, dict[int, list[str]]]

    def of(self, module: str, lines: tuple[int, int], everywhere: bool) -> dict[str, float]:
        """Return the tests that come by some lines of a module, or by any of it, with their times."""
        known = self.lines.get(module, {})
        numbers = known if everywhere else range(lines[0], lines[1] + 1)
        return {name: self.times[name] for number in numbers for name in known.get(number, []) if name}

    def at_import(self, module: str, lines: tuple[int, int]) -> bool:
        """Return whether some lines run as files are loaded."""
        return any("" in self.lines.get(module, {}).get(number, []) for number in range(lines[0], lines[1] + 1))


@dataclass
class _Watch:
    """Runs tests, and keeps what came of them."""

    failed: str = ""
    ran: int = 0
    context: Callable[[str], None] = lambda name: None

    def __post_init__(self) -> None:
        self.times: dict[str, float] = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.context(item.nodeid)
        began = time.process_time()
        result = yield
        self.times[item.nodeid] = time.process_time() - began
        self.context("")
        return result

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.ran += report.when == "call"
        if report.failed:
            self.failed = self.failed or report.nodeid


class _Chosen(_Watch):
    """Runs some tests only."""

    def __init__(self, wanted: dict[str, float]) -> None:
        super().__init__()
        self.wanted = wanted

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        # a mutant that changes the very names of the tests meets all tests of the files
        items[:] = _in_order([item for item in items if item.nodeid in self.wanted], self.wanted) or items


class _Loop(_Watch):
    """Does some work instead of the tests, with all of them collected."""

    def __init__(self, work: Callable[[_Loop, list[pytest.Item]], None]) -> None:
        super().__init__()
        self.work = work

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.work(self, session.items)
        return True


def _in_order(items: list[pytest.Item], times: dict[str, float]) -> list[pytest.Item]:
    """Return tests file by file, quick ones first."""
    files: dict[Path, float] = {}
    for item in items:
        files[item.path] = files.get(item.path, 0.0) + times[item.nodeid]
    return sorted(items, key=lambda item: (files[item.path], str(item.path), times[item.nodeid]))


def load_libraries() -> None:
    """Load what the tests use, but nothing of the project."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def measure(folders: Sequence[str], code: Path) -> Reach:
    """Run all tests of some folders once on the unharmed code and see where they come by."""
    with tempfile.TemporaryDirectory() as place:
        result = Path(place) / "reach.json"
        ended = _in_child(lambda: _measure(folders, code, result), 3600.0, 3600, None)
        if ended != 0:
            raise SystemExit(f"the tests fail without any mutant (exit {ended}): {', '.join(folders)}")
        told = json.loads(result.read_text(encoding="utf-8"))
    lines = {module: {int(number): tests for number, tests in known.items()} for module, known in told["lines"].items()}
    return Reach(told["times"], lines)


def _measure(folders: Sequence[str], code: Path, result: Path) -> int:
    watch = coverage.Coverage(data_file=None, include=[f"{code}/*"], config_file=False)
    plugin = _Watch(context=watch.switch_context)
    watch.start()
    ended = pytest.main([*QUIETLY, *folders], plugins=[plugin])
    watch.stop()
    data = watch.get_data()
    lines = {
        Path(file).stem: {number: sorted(set(names)) for number, names in data.contexts_by_lineno(file).items()}
        for file in data.measured_files()
    }
    result.write_text(json.dumps({"times": plugin.times, "lines": lines}), encoding="utf-8")
    return int(ended)


# ------------------------------------------------------------------------------------------ a session of its own


class _Planted(importlib.abc.MetaPathFinder):
    """Gives one module out of a text instead of its file."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        self.name, self.path, self.source = name, path, source

    def find_spec(self, name: str, path: Any, target: Any = None) -> importlib.machinery.ModuleSpec | None:
        if name != self.name:
            return None
        loader = _TextLoader(name, str(self.path))
        loader.source = self.source
        return importlib.util.spec_from_file_location(name, self.path, loader=loader)


class _TextLoader(importlib.machinery.SourceFileLoader):
    source: str

    def get_code(self, fullname: str) -> Any:
        return compile(self.source, self.path, "exec", dont_inherit=True)


def try_loading(name: str, path: Path, source: str, wanted: dict[str, float], limits: dict[str, Any]) -> dict[str, Any]:
    """Run some tests against a module loaded from another text, in a session of its own.

    Parameters
    ----------
    name, path, source
        Full name of the module, its file, and the text to take instead.
    wanted
        Tests, with their times [s].
    limits
        The part of the settings with `patience`, `patience_s`, `longest_s` and `memory`.

    Returns
    -------
    dict
        `fate` (killed, timed out or survived), `by` the first test that noticed, how many `ran`, and `seconds`.
    """

    def work(result: Path) -> int:
        for known, module in list(sys.modules.items()):  # what a session before has loaded
            file = Path(getattr(module, "__file__", None) or "/")
            if file.is_relative_to(ROOT / "plugin") or (file.is_relative_to(ROOT / "tests") and file.parent != Path(__file__).parent):
                del sys.modules[known]
        sys.meta_path.insert(0, _Planted(name, path, source))
        plugin = _Chosen(wanted)
        ended = pytest.main([*QUIETLY, *sorted({test.split("::")[0] for test in wanted})], plugins=[plugin])
        result.write_text(json.dumps([plugin.failed, plugin.ran]), encoding="utf-8")
        return int(ended)

    return _tried(work, sum(wanted.values()), limits)


# ------------------------------------------------------------------------------------------ in a collected session


class Bench:
    """A session with its tests collected, in forks of which functions get other code.

    Parameters
    ----------
    plugin, items
        Of the session.
    code : Path
        Folder of the modules.
    limits : dict
        As in `try_loading`.
    """

    def __init__(self, plugin: _Loop, items: list[pytest.Item], code: Path, limits: dict[str, Any]) -> None:
        self.plugin, self.limits = plugin, limits
        self.items = {item.nodeid: item for item in items}
        self.functions: dict[tuple[str, str], list[types.FunctionType]] = {}
        for one in gc.get_objects():
            if isinstance(one, types.FunctionType) and Path(one.__code__.co_filename).parent == code:
                self.functions.setdefault((Path(one.__code__.co_filename).stem, one.__code__.co_qualname), []).append(one)

    def attempt(self, name: str, source: str, wanted: dict[str, float], constants: bool) -> dict[str, Any]:
        """Run some tests with the functions of a module, or its constants too, as another text has them; as `try_loading`.

        Constants are put in wherever they were taken in under their own name. What else was made from them as files were
        loaded stays as it was, so that a survivor must be tried by `try_loading` as well.
        """
        order = _in_order([self.items[test] for test in wanted], wanted)

        def work(result: Path) -> int:
            self._put_in(name, source, constants)
            for item, after in zip(order, [*order[1:], None], strict=True):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                if self.plugin.failed:
                    break
            result.write_text(json.dumps([self.plugin.failed, self.plugin.ran]), encoding="utf-8")
            return int(bool(self.plugin.failed))

        return _tried(work, sum(wanted.values()), self.limits)

    def _put_in(self, name: str, source: str, constants: bool) -> None:
        made = compile(source, f"{name}.py", "exec", dont_inherit=True)
        for code in _functions_of(made):
            for function in self.functions.get((name.rsplit(".", maxsplit=1)[-1], code.co_qualname), []):
                function.__code__ = code
        if not constants:
            return
        other = types.ModuleType(name)
        exec(made, vars(other))
        for key, value in vars(other).items():
            old = vars(sys.modules[name]).get(key)
            if isinstance(value, types.FunctionType) and isinstance(old, types.FunctionType):
                old.__defaults__, old.__kwdefaults__ = value.__defaults__, value.__kwdefaults__
            elif not key.startswith("__") and not isinstance(value, type | types.ModuleType):
                for module in list(sys.modules.values()):
                    if module is not None and vars(module).get(key) is old:
                        vars(module)[key] = value


def _functions_of(code: types.CodeType) -> Iterator[types.CodeType]:
    """Yield the code of the functions of a module, those of its classes too, but not what stands within functions."""
    for inner in code.co_consts:
        if isinstance(inner, types.CodeType) and not inner.co_name.startswith("<"):
            if inner.co_flags & inspect.CO_NEWLOCALS:  # a function, not the body of a class
                yield inner
            else:
                yield from _functions_of(inner)


def collected(folders: Sequence[str], code: Path, limits: dict[str, Any], work: Callable[[Bench], None]) -> None:
    """Collect the tests of some folders and do some work with them."""
    with Path(os.devnull).open("w", encoding="utf-8") as silence, contextlib.redirect_stdout(silence):
        pytest.main([*QUIETLY, *folders], plugins=[_Loop(lambda plugin, items: work(Bench(plugin, items, code, limits)))])


# ------------------------------------------------------------------------------------------ processes


def _tried(work: Callable[[Path], int], usual_s: float, limits: dict[str, Any]) -> dict[str, Any]:
    allowed = limits["patience_s"] + limits["patience"] * usual_s
    with tempfile.TemporaryDirectory() as place:
        result = Path(place) / "result.json"
        began = time.monotonic()
        ended = _in_child(lambda: work(result), limits["longest_s"], int(allowed) + 1, limits["memory"])
        failed, ran = json.loads(result.read_text(encoding="utf-8")) if result.exists() else ("", 0)
    if ended == 0:
        fate, failed = "survived", ""
    else:
        fate = "timed out" if ended in CAPPED else "killed"
        failed = failed or ("the module or a test file does not load" if ended in (2, 3, 4) else f"exit {ended}")
    return {"fate": fate, "by": failed, "ran": ran, "seconds": round(time.monotonic() - began, 2)}


def _in_child(work: Callable[[], int], longest_s: float, processor_s: int, memory: int | None) -> int:
    """Do some work in a child process under limits; return its exit, below zero for a signal."""
    child = os.fork()
    if child == 0:
        ended = 70
        try:
            os.setsid()  # what the tests start ends with it
            resource.setrlimit(resource.RLIMIT_CPU, (processor_s, processor_s + 5))
            if memory:
                resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
            if not os.environ.get("MUTANTS_LOUD"):
                silence = os.open(os.devnull, os.O_WRONLY)
                os.dup2(silence, 1)
                os.dup2(silence, 2)
            ended = work()
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(ended)
    return _wait(child, longest_s)


def _wait(child: int, longest_s: float) -> int:
    until = time.monotonic() + longest_s
    pause = 0.005
    while True:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            break
        if time.monotonic() > until:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
            _, status = os.waitpid(child, 0)
            break
        time.sleep(pause)
        pause = min(0.1, 1.2 * pause)
    with contextlib.suppress(ProcessLookupError):  # whatever it left running
        os.killpg(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(status)
