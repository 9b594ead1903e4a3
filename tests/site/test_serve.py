"""The real server notices an edited record and survives a broken one."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import bench_serve  # type: ignore[import-not-found]
import pytest
from club import Project  # type: ignore[import-not-found]

wait_for = partial(bench_serve.wait_for, patience_s=60)


@pytest.fixture
def address(project: Project) -> Iterator[str]:
    with bench_serve.server(project.folder) as (_, home):
        yield f"{home}/builds/quarry-shunter/"


def test_an_edit_shows_and_a_broken_record_still_answers(project: Project, address: str) -> None:
    wait_for(address, "Quarry shunter")
    record = (project.builds / "quarry-shunter.yml").read_text(encoding="utf-8")
    project.write("builds/quarry-shunter.yml", record.replace("Quarry shunter", "Slate quarry engine"))
    wait_for(address, "Slate quarry engine")
    project.write("builds/quarry-shunter.yml", record.replace("planned", "plannned"))
    wait_for(address, "plannned")
    project.write("builds/quarry-shunter.yml", record)
    wait_for(address, "planned")
