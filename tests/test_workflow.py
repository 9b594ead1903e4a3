"""The workflow of a club's repository: what it says, and each of its commands run as the host's runner would."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from buildsheets.start.club import Club, lay_down
from buildsheets.start.program import Program

ROOT = Path(__file__).resolve().parents[1]
PUBLISHES = "github.event_name != 'pull_request' && github.ref == 'refs/heads/main'"

pytestmark = pytest.mark.skipif(shutil.which("bash") is None, reason="the runner's shell is bash")


class Repository:
    """A club's library under version control, and the runner's way to run a step."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "library"
        lay_down(self.folder, Club("Dune line", speed_unit="km/h"), Program("x"))
        self.temp = folder / "temp"
        self.summary = folder / "summary.md"
        programs = folder / "programs"
        for made in (self.temp, programs):
            made.mkdir()
        for name, code in (("buildsheets", "from buildsheets.cli import main; main()"), ("mkdocs", "from mkdocs.__main__ import cli; cli()")):
            (programs / name).write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{code}" "$@"\n', encoding="utf-8")
            (programs / name).chmod(0o755)
        who = {f"GIT_{role}_{what}": "club" for role in ("AUTHOR", "COMMITTER") for what in ("NAME", "EMAIL")}
        self.environment = {
            **os.environ, **who, "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": str(ROOT / "plugin"),
            "NO_MKDOCS_2_WARNING": "1", "RUNNER_TEMP": str(self.temp), "GITHUB_STEP_SUMMARY": str(self.summary),
        }
        self.git("init", "-q", "-b", "main", ".")
        self.commit("Begin")

    def git(self, *words: str) -> None:
        subprocess.run(["git", *words], cwd=self.folder, env=self.environment, check=True, capture_output=True)

    def commit(self, message: str) -> None:
        self.git("add", "--all")
        self.git("commit", "-q", "-m", message)

    def propose(self, name: str, text: str) -> None:
        """Leave the checkout as the runner has it for a proposal: its merge into the main branch."""
        self.git("switch", "-q", "-c", "proposal")
        (self.folder / name).write_text(text, encoding="utf-8")
        self.commit("Propose")
        self.git("switch", "-q", "--detach", "main")
        self.git("merge", "-q", "--no-ff", "-m", "Merge", "proposal")

    def run(self, script: str) -> subprocess.CompletedProcess[str]:
        """Run a step as the runner does where no shell is named: bash -e on a file (host's manual, from memory)."""
        file = self.temp / "step.sh"
        file.write_text(script, encoding="utf-8")
        return subprocess.run(["bash", "-e", str(file)], cwd=self.folder, env=self.environment, check=False, capture_output=True, text=True)


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    return Repository(tmp_path)


@pytest.fixture(scope="module")
def workflow(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("club") / "library"
    lay_down(folder, Club("Dune line", speed_unit="km/h"), Program("x"))
    text = (folder / ".github/workflows/library.yml").read_text(encoding="utf-8")
    return {str(key): value for key, value in yaml.load(text, yaml.BaseLoader).items()}  # BaseLoader: `on` is a word here


def steps(workflow: dict[str, Any], job: str) -> list[dict[str, Any]]:
    return list(workflow["jobs"][job]["steps"])


def scripts(workflow: dict[str, Any]) -> dict[str, str]:
    return {step["name"]: step["run"] for job in workflow["jobs"] for step in steps(workflow, job) if "run" in step}


def test_a_strangers_proposal_gets_neither_secrets_nor_a_token_that_writes(workflow: dict[str, Any]) -> None:
    assert set(workflow["on"]) == {"pull_request", "push", "workflow_dispatch"}
    assert workflow["on"]["push"] == {"branches": ["main"]}
    assert workflow["permissions"] == {"contents": "read"}
    assert "permissions" not in workflow["jobs"]["build"]
    assert workflow["jobs"]["publish"]["permissions"] == {"pages": "write", "id-token": "write"}
    assert workflow["jobs"]["publish"]["if"] == f"${{{{ {PUBLISHES} }}}}"
    assert "secrets" not in str(workflow)
    fetch = next(step for step in steps(workflow, "build") if step.get("uses", "").startswith("actions/checkout@"))
    assert fetch["with"]["persist-credentials"] == "false"


def test_nothing_that_a_stranger_writes_becomes_part_of_a_command(workflow: dict[str, Any]) -> None:
    assert [name for name, script in scripts(workflow).items() if "${{" in script] == []


def test_every_action_is_the_hosts_own_and_of_a_fixed_major_version(workflow: dict[str, Any]) -> None:
    used = [step["uses"] for job in workflow["jobs"] for step in steps(workflow, job) if "uses" in step]
    assert len(used) >= 5
    assert [name for name in used if not re.fullmatch(r"actions/[a-z-]+@v[0-9]+", name)] == []


def test_old_runs_of_a_proposal_give_way_and_no_job_runs_for_ever(workflow: dict[str, Any]) -> None:
    assert "github.ref" in workflow["concurrency"]["group"]
    assert workflow["concurrency"]["cancel-in-progress"] == "${{ github.event_name == 'pull_request' }}"
    assert all(int(job["timeout-minutes"]) <= 60 and job["runs-on"] == "ubuntu-24.04" for job in workflow["jobs"].values())
    assert next(step for step in steps(workflow, "build") if "setup-python" in step.get("uses", ""))["with"]["cache"] == "pip"


def test_every_step_and_key_is_one_the_host_knows(workflow: dict[str, Any]) -> None:
    # keys: the host's manual of workflow syntax, from memory
    assert set(workflow) <= {"name", "on", "permissions", "concurrency", "jobs", "env"}
    for name, job in workflow["jobs"].items():
        assert set(job) <= {"name", "if", "needs", "runs-on", "timeout-minutes", "permissions", "environment", "steps"}
        for step in steps(workflow, name):
            assert set(step) <= {"name", "id", "if", "uses", "with", "run"}
            assert ("uses" in step) != ("run" in step)


def test_the_site_is_handed_on_from_where_it_was_built(workflow: dict[str, Any]) -> None:
    handed = {step["uses"].partition("@")[0]: step for step in steps(workflow, "build") if "upload" in step.get("uses", "")}
    assert {step["with"]["path"] for step in handed.values()} == {"site"}
    assert handed["actions/upload-artifact"]["if"] == "${{ github.event_name == 'pull_request' }}"
    assert handed["actions/upload-pages-artifact"]["if"] == f"${{{{ {PUBLISHES} }}}}"
    cached = next(step for step in steps(workflow, "build") if step.get("uses", "").startswith("actions/cache@"))
    assert cached["with"]["path"] == ".cache/buildsheets"  # where the plugin keeps finished sheets, see its option `cache`


def test_what_is_installed_is_what_the_library_says(workflow: dict[str, Any], repository: Repository) -> None:
    assert scripts(workflow)["Install the program"] == "python -m pip install -r requirements.txt"
    assert (repository.folder / "requirements.txt").is_file()


def test_a_good_proposal_passes_every_step(workflow: dict[str, Any], repository: Repository) -> None:
    record = (repository.folder / "builds/example-tank.yml").read_text(encoding="utf-8")
    repository.propose("builds/example-tank.yml", record.replace("worm: 1, driven: 28", "worm: 1, driven: 24"))
    for name, script in scripts(workflow).items():
        if name != "Install the program":
            done = repository.run(script)
            assert done.returncode == 0, (name, done.stdout, done.stderr)
    summary = repository.summary.read_text(encoding="utf-8")
    assert "1 changed; 0 as before." in summary
    row = next(line for line in summary.splitlines() if line.startswith("| Example 0-6-0 tank (example-tank) | changed |"))
    assert re.search(r"\| [0-9.]+ km/h → [0-9.]+ km/h \|", row)
    # by hand: 17 / 12 x 28 = 39.7 and 17 / 12 x 24 = 34.0
    assert "39.7 : 1 → spur 12:17, worm 1:24, 34.0 : 1" in row
    assert (repository.folder / "site/builds/example-tank/index.html").is_file()
    assert (repository.folder / ".cache/buildsheets").is_dir()


def test_a_bad_proposal_fails_with_a_note_at_its_line_and_is_told_all_the_same(workflow: dict[str, Any], repository: Repository) -> None:
    repository.propose("builds/coal-tank.yml", "format: 1\ntitle: Coal tank\nstatus: runing\n")
    checked = repository.run(scripts(workflow)["Check the records"])
    assert checked.returncode == 1
    assert checked.stdout.startswith("::error file=builds/coal-tank.yml,line=3,col=9::")
    told = repository.run(scripts(workflow)["Say which sheets change"])
    assert told.returncode == 0, told.stderr
    assert "| coal-tank (coal-tank) | cannot be read |" in repository.summary.read_text(encoding="utf-8")
    assert repository.run(scripts(workflow)["Build the site"]).returncode != 0


def test_the_last_record_may_go_and_the_first_may_come(workflow: dict[str, Any], repository: Repository) -> None:
    (repository.folder / "builds/example-tank.yml").unlink()
    repository.commit("Away with the example")
    repository.propose("builds/coal-tank.yml", "format: 1\ntitle: Coal tank\nstatus: planned\n")
    assert repository.run(scripts(workflow)["Say which sheets change"]).returncode == 0
    assert "1 new; 0 as before." in repository.summary.read_text(encoding="utf-8")
