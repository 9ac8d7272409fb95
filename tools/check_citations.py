#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Fails when a citation key such as [ISO5-2] in sources, tests or docs has no entry in docs/bibliography.md.

    check_citations.py [ROOT]
"""
import pathlib
import re
import sys

# What a comment puts in square brackets, and the keys in it: [ISO5-2], [SMPTE102, SMPTE139], [ISO5-3:2009],
# [RFC8259 section 6]. A key begins with a capital and holds a digit; array indices such as [N1] are too short to be one.
BRACKETS = re.compile(r"\[([A-Z][^\]\[]*)\](?!\()")
KEY = re.compile(r"^([A-Z][A-Za-z]*[0-9][A-Za-z0-9.]*(?:-[0-9]+)*)(?::[0-9]{4})?(?: .*)?$")
SHORTEST = 4
ENTRY = re.compile(r"^- \*\*\[([^\]]+)\]\*\*", re.MULTILINE)


def comments(text):
    return "\n".join(re.findall(r"//[^\n]*", text))


def keys(text):
    for inside in BRACKETS.findall(text):
        for part in inside.split(","):
            match = KEY.match(part.strip())
            if match and len(match.group(1)) >= SHORTEST:
                yield match.group(1)


def main():
    root = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).resolve().parent.parent
    entries = ENTRY.findall((root / "docs" / "bibliography.md").read_text(encoding="utf-8"))
    known = set(entries)
    wrong = [f"docs/bibliography.md: two entries for [{key}]" for key in sorted(known) if entries.count(key) > 1]
    cited = 0
    for folder, pattern, only_comments in (("include", "*.h", True), ("src", "*.[ch]*", True), ("tests", "*.[ch]*", True), ("docs", "*.md", False)):
        for path in sorted((root / folder).rglob(pattern)):
            if path.suffix not in {".h", ".cpp", ".md"} or path.name == "bibliography.md":
                continue
            text = path.read_text(encoding="utf-8")
            for number, line in enumerate(text.splitlines(), 1):
                for key in keys(comments(line) if only_comments else line):
                    cited += 1
                    if key not in known:
                        wrong.append(f"{path.relative_to(root)}:{number}: [{key}] is not in docs/bibliography.md")
    print("\n".join(wrong) if wrong else f"{cited} citations, all resolved by {len(known)} entries")
    return 1 if wrong or not known else 0


if __name__ == "__main__":
    sys.exit(main())
