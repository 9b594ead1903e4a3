"""Where an option of ours stands in the site's configuration, so that a complaint about it has a place like any other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import yaml

from buildsheets.records.problems import Mark, printable
from buildsheets.records.reader import LOADER

PLUGIN = "buildsheets"


def option_mark(config_file: str, option: Sequence[str]) -> Mark:
    """Return the place of an option's value; of what is around it where it is not written, or not in this file.

    Parameters
    ----------
    config_file : str
        Path of mkdocs.yml.
    option : sequence of str
        Name of the option, and of what is in it.
    """
    path = Path(config_file)
    shown = printable(path.name) or "mkdocs.yml"
    try:
        # only composed: a tag of the site's, which may stand for anything, is not followed
        node = yaml.compose(path.read_text(encoding="utf-8-sig"), Loader=LOADER)
    except (OSError, ValueError, RecursionError, yaml.YAMLError):
        return Mark(shown, 1, 1)
    place = _plugin(node)
    for name in option:
        place = next((value for key, value in _entries(place) if key.value == name), None) or place
    return Mark(shown, 1, 1) if place is None else Mark(shown, place.start_mark.line + 1, place.start_mark.column + 1)


def _plugin(top: yaml.Node | None) -> yaml.Node | None:
    """Return the options of our plugin, in a list of plugins or in a group of them; else what holds the plugins."""
    plugins = next((value for key, value in _entries(top) if key.value == "plugins"), None)
    for item in plugins.value if isinstance(plugins, yaml.SequenceNode) else [plugins]:
        for key, value in _entries(item):
            if key.value == PLUGIN:
                return value if isinstance(value, yaml.MappingNode) else key
        if isinstance(item, yaml.ScalarNode) and item.value == PLUGIN:
            return item
    return plugins


def _entries(node: yaml.Node | None) -> Iterator[tuple[yaml.Node, yaml.Node]]:
    return iter(node.value if isinstance(node, yaml.MappingNode) else ())
