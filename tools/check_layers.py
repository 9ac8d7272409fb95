#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Fails when a module includes what its layer may not, or a foreign library stands where it has no business.

    check_layers.py [ROOT]

Rules (DEVELOPERS.md, "Layers"):
- a module may include its own headers and those of the modules listed for it here;
- of another stage only values: types.h and options.h; never its algorithms (pipeline and cli excepted);
- public headers include no foreign library but tl::expected;
- a foreign library is included only by the modules listed for it here.
"""
import pathlib
import re
import sys

# For each module: the modules whose headers it may include.
MAY_USE = {
    "core": set(),
    "scan": {"core"},
    "frames": {"core", "scan"},
    "density": {"core", "scan", "frames"},
    "residue": {"core", "scan", "frames", "density"},
    "film": {"core", "frames", "density", "residue"},
    "mend": {"core", "scan", "frames", "density", "residue", "film"},
    "invert": {"core", "scan", "frames", "density", "residue", "film"},
    "ledger": {"core", "frames", "scan"},
    "history": {"core", "ledger"},
    "report": {"core", "scan", "frames", "density", "residue", "film", "invert", "ledger", "history"},
    "review": {"core", "ledger", "frames"},
    "pipeline": {"core", "scan", "frames", "density", "residue", "film", "mend", "invert", "ledger", "history", "report"},
    "cli": {"core", "scan", "frames", "density", "residue", "film", "mend", "invert", "ledger", "history", "report", "pipeline", "review"},
}
VALUES_ONLY = {"types.h", "options.h"}
MAY_USE_ALGORITHMS = {"pipeline", "cli"}
# Rooms beside the stages may use what the ledger's room reads and writes: files are what both are about.
MAY_USE_FILES_OF = {("review", "ledger/layout_file.h"), ("review", "ledger/settings_file.h")}

# How an include of a library begins, and which modules may have it (in src/, never in public headers).
LIBRARIES = {
    "tl/expected": set(MAY_USE),
    "fmt/": set(MAY_USE),
    "tiff": {"scan", "invert"},
    "libraw": {"scan"},
    "zbar": {"frames"},
    "exiv2": {"invert"},
    "jpeglib": {"scan"},
    "png": {"scan", "invert"},
    "OpenEXR/": {"invert"},
    "Imath/": {"invert"},
    "lcms2": {"scan", "invert"},
    "opencv2/": {"scan", "frames", "density", "residue", "film", "mend", "invert", "pipeline"},
    "Eigen/": {"frames", "density", "residue", "film", "invert", "history"},
    "ceres/": {"frames", "density", "residue", "film"},
    "tbb/": {"pipeline"},
    "oneapi/tbb": {"pipeline"},
    "sqlite3": {"history"},
    "openssl/": {"core"},
    "toml++/": {"ledger", "cli"},
    "nlohmann/": {"report", "history", "review"},
    "httplib": {"review"},
    "CLI/": {"cli"},
    "spdlog/": {"cli"},
}
IN_PUBLIC_HEADERS = {"tl/expected"}

INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]')


def includes(path):
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        match = INCLUDE.match(line)
        if match:
            yield number, match.group(2)


def check_own(module, target):
    """What is wrong with including `target` (after basefog/) from `module`, or None."""
    other, _, name = target.partition("/")
    if other == module or other == "core":
        return None if other == "core" or module in MAY_USE else "unknown module"
    if other not in MAY_USE:
        return f"there is no module {other}"
    if other not in MAY_USE[module]:
        return f"{module} lies below {other} or beside it"
    if module not in MAY_USE_ALGORITHMS and name not in VALUES_ONLY and (module, target) not in MAY_USE_FILES_OF:
        return f"{module} may use values of {other} (types.h, options.h), not its algorithms"
    return None


def check_library(module, target, public):
    for start, modules in LIBRARIES.items():
        if target.lower().startswith(start.lower()):
            if public and start not in IN_PUBLIC_HEADERS:
                return f"{target} in a public header"
            if module not in modules:
                return f"{module} has no business with {target}"
    return None


def main():
    root = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).resolve().parent.parent
    wrong, seen = [], 0
    for base, public in ((root / "include" / "basefog", True), (root / "src", False)):
        for path in sorted(base.rglob("*")):
            if path.suffix not in {".h", ".cpp"}:
                continue
            seen += 1
            module = path.relative_to(base).parts[0]
            for number, target in includes(path):
                if target.startswith("basefog/"):
                    problem = check_own(module, target[len("basefog/"):])
                elif (root / "src" / target).exists() and target.split("/")[0] != module and "/" in target:
                    problem = f"{target} is private to {target.split('/')[0]}"
                elif target.startswith("support/"):
                    problem = f"{target} belongs to the tests"
                else:
                    problem = check_library(module, target, public)
                if problem:
                    wrong.append(f"{path.relative_to(root)}:{number}: {problem}")
    # The tests' oracle stays independent of what it judges.
    for path in sorted((root / "tests" / "support").glob("synthetic_*")):
        seen += 1
        wrong += [f"{path.relative_to(root)}:{n}: the generator includes the library" for n, t in includes(path) if t.startswith("basefog/")]
    print("\n".join(wrong) if wrong else f"{seen} files, every include in its layer")
    return 1 if wrong or seen == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
