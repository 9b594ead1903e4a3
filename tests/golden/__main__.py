"""Look at what became of the accepted figures, and accept what was meant.

    python tests/golden review            what differs, build by build; exit code 1 if anything does
    python tests/golden review SLUG ...   the same for some builds
    python tests/golden accept            take all figures as they are now
    python tests/golden accept SLUG ...   take those of some builds

Commit what `accept` writes together with the change that caused it, and say in the message why the figures moved.
"""

from __future__ import annotations

import argparse
import sys

from golden_set import KEPT, accept, accepted, condensed, differences, golden_builds


def main(words: list[str] | None = None) -> int:
    """Do what the command line asks and return the exit code."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("task", choices=("review", "accept"))
    reader.add_argument("slugs", nargs="*", metavar="SLUG")
    asked = reader.parse_args(words)
    builds = golden_builds()
    gone = [path for path in sorted(KEPT.glob("*.json")) if path.stem not in builds]
    unknown = set(asked.slugs) - set(builds) - {path.stem for path in gone}
    if unknown:
        reader.error(f"not in the set: {', '.join(sorted(unknown))}")
    changed = 0
    for slug in sorted(set(asked.slugs) & set(builds) or builds):
        now = condensed(builds[slug])
        before = accepted(slug)
        lines = list(differences(before, now)) if before else ["never accepted so far"]
        changed += bool(lines)
        if lines:
            print(f"{slug}: {len(lines)} differ" if before else f"{slug}:", *lines, sep="\n  ")
            if asked.task == "accept":
                accept(slug, now)
    for path in gone:
        if not asked.slugs or path.stem in asked.slugs:
            changed += 1
            print(f"{path.stem}: no longer a build of the set")
            if asked.task == "accept":
                path.unlink()
    print(f"{changed} of {len(builds)} builds differ{', accepted as they are now' if changed and asked.task == 'accept' else ''}")
    return int(changed > 0 and asked.task == "review")


if __name__ == "__main__":
    sys.exit(main())
