"""A large library out of the demo's records: as varied as a club's, and the same every time for the same seed."""

from __future__ import annotations

import random
import shutil
import sys
from copy import deepcopy
from pathlib import Path
from typing import Any

import yaml

from buildsheets.records.reader import read_file

DEMO = Path(__file__).resolve().parents[2] / "builds"
PLACES = (
    "Samphire", "Marram", "Withy", "Gannet", "Curlew", "Dunlin", "Saltpan", "Staithe", "Causey", "Warren", "Spit", "Mudlark",
    "Bittern", "Avocet", "Tern", "Plover", "Kelp", "Shingle", "Groyne", "Fenland", "Osier", "Sedge", "Teal", "Whimbrel",
)
KINDS = ("tank", "goods", "shunter", "railcar", "pug", "diesel", "railbus", "mogul")
STATUS = ("planned", "on the bench", "running", "set aside")
MOTORS = ("can-1220-5p", "can-1630-5p", "can-1215-3p", "can-1625-3p")
DECODERS = ("four-function-low", "six-function-feedback", "sound-8pin")
RESISTORS = ("film-33r-1w", "film-22r-1w", "film-10r-1w", "film-47r-half-watt", "film-68r-half-watt")

Record = dict[str, Any]


def grow(folder: Path, count: int, seed: int = 1) -> list[str]:
    """Write a library of so many records, with the demo's stock and pictures; return their slugs.

    Parameters
    ----------
    folder : Path
        Where to; made if absent.
    count : int
        How many records.
    seed : int
        The same seed gives the same library.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("stock", "pictures"):
        shutil.copytree(DEMO / name, folder / name, dirs_exist_ok=True)
    seeds = [_read(path) for path in sorted(DEMO.glob("*.yml"))]
    chance = random.Random(seed)
    slugs = []
    for number in range(1, count + 1):
        record = varied(deepcopy(seeds[number % len(seeds)]), number, chance)
        slugs.append(f"{record['title'].lower().replace(' ', '-')}")
        text = yaml.safe_dump(record, sort_keys=False, allow_unicode=True, width=120)
        (folder / f"{slugs[-1]}.yml").write_text(text, encoding="utf-8", newline="\n")
    return slugs


def _read(path: Path) -> Record:
    """Read as our records are: in YAML 1.2 "on" is a word."""
    document, problems = read_file(path, path.name)
    assert document is not None, problems
    data: Record = document.data
    return data


def varied(record: Record, number: int, chance: random.Random) -> Record:
    """Return a record of the demo as another builder would have made it.

    Parameters
    ----------
    record : dict
        It is changed.
    number : int
        Its number in the library.
    chance : random.Random
        Where its values come from.
    """
    record.pop("formerly", None)
    record["title"] = f"{chance.choice(PLACES)} {chance.choice(KINDS)} {number}"
    record["number"] = f"SLR-{number:04d}"
    record["status"] = chance.choice(STATUS)
    record.pop("aside_because", None)
    if record["status"] == "set aside":
        record["aside_because"] = "The next one was easier."
    record["bench_time"] = f"{chance.uniform(2, 30):.1f} h"
    record["supply"] = {"track": f"{chance.uniform(12, 16.5):.1f} V ± 3 %", "meter": "rectified", "highest": "18 V"}
    if chance.random() < 0.6:  # not yet tried on the bench
        for key in ("readings", "reading_conditions", "trials"):
            record.pop(key, None)
    _scaled(record, ("model", "mass"), "g", chance, 0.15)
    record.get("model", {}).pop("driven_mass", None)
    _scaled(record, ("train", "vehicle_mass"), "g", chance, 0.3)
    if "train" in record:
        record["train"]["vehicles"] = chance.randint(0, 9)
        record["train"]["grade"] = f"1 in {chance.randint(30, 120)}"
    if "target" in record and "speed" in record["target"]:
        record["target"]["speed"] = f"{chance.randint(20, 95)} mph"
    free = "motor" in record and "bench" not in record["motor"] and not _pinion_has_a_bore(record)
    if free and chance.random() < 0.5:
        record["motor"] = {"stock": chance.choice(MOTORS)}
    if "readings" not in record and "decoder_settings" not in record:
        record["decoder"] = {"stock": chance.choice(DECODERS)}
    if "resistor" in record.get("dropper", {}) and "trials" not in record:
        record["dropper"]["resistor"] = {"stock": chance.choice(RESISTORS)}
        record["dropper"]["parallel"] = chance.randint(1, 3)
    if "pairs" in record.get("dropper", {}).get("diodes", {}):
        record["dropper"]["diodes"]["pairs"] = chance.randint(1, 4)
    return record


def _pinion_has_a_bore(record: Record) -> bool:
    """Whether the motor's shaft has to fit the pinion."""
    stages = record.get("gear_train", {}).get("stages", [])
    return bool(stages) and any(word in str(stages[0]) for word in ("stock", "bore"))


def _scaled(record: Record, where: tuple[str, str], unit: str, chance: random.Random, by: float) -> None:
    """Vary a plain quantity of a record by so much either way."""
    group, key = where
    if key in record.get(group, {}):
        value = float(str(record[group][key]).split()[0])
        record[group][key] = f"{value * chance.uniform(1 - by, 1 + by):.3g} {unit}"


if __name__ == "__main__":
    print(f"{len(grow(Path(sys.argv[1]), int(sys.argv[2])))} records in {sys.argv[1]}")
