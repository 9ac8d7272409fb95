#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs check_layers.py and check_citations.py on small trees that break one rule each."""
import pathlib
import subprocess
import sys
import tempfile
import unittest

TOOLS = pathlib.Path(sys.argv.pop(1))


def run(checker, files):
    with tempfile.TemporaryDirectory() as folder:
        root = pathlib.Path(folder)
        for name, text in files.items():
            path = root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        done = subprocess.run([sys.executable, TOOLS / checker, root], capture_output=True, text=True, check=False)
        return done.returncode, done.stdout


class Layers(unittest.TestCase):
    def breaks(self, name, include, words):
        code, out = run("check_layers.py", {name: f"#include {include}\n"})
        self.assertEqual(code, 1, out)
        self.assertIn(words, out)

    def test_sound_tree(self):
        code, out = run("check_layers.py", {"src/film/a.cpp": '#include "basefog/film/types.h"\n#include "basefog/density/types.h"\n#include <ceres/ceres.h>\n'})
        self.assertEqual(code, 0, out)

    def test_upward(self):
        self.breaks("src/scan/a.cpp", '"basefog/film/types.h"', "lies below")

    def test_algorithm_of_another_stage(self):
        self.breaks("src/film/a.cpp", '"basefog/density/measure_density.h"', "not its algorithms")

    def test_foreign_library_in_public_header(self):
        self.breaks("include/basefog/frames/a.h", "<opencv2/core.hpp>", "public header")

    def test_foreign_library_in_the_wrong_module(self):
        self.breaks("src/report/a.cpp", "<opencv2/core.hpp>", "no business")

    def test_private_header_of_another_module(self):
        code, out = run("check_layers.py", {"src/film/a.cpp": '#include "density/inner.h"\n', "src/density/inner.h": ""})
        self.assertEqual(code, 1, out)
        self.assertIn("private to density", out)

    def test_oracle_that_includes_the_library(self):
        code, out = run("check_layers.py", {"tests/support/synthetic_a.h": '#include "basefog/core/units.h"\n'})
        self.assertEqual(code, 1, out)

    def test_empty_tree(self):
        self.assertEqual(run("check_layers.py", {})[0], 1)


class Citations(unittest.TestCase):
    BOOK = "- **[ISO5-2]** A standard.\n- **[RFC8259]** Another.\n"

    def test_known(self):
        code, out = run("check_citations.py", {"docs/bibliography.md": self.BOOK, "src/a/a.cpp": "// D = -log10 T [ISO5-2], text [RFC8259 section 6]; x[N1]\n"})
        self.assertEqual(code, 0, out)
        self.assertIn("2 citations", out)

    def test_unknown_even_beside_a_known_one(self):
        code, out = run("check_citations.py", {"docs/bibliography.md": self.BOOK, "include/a/a.h": "int a;  // [ISO5-2, ISO9999]\n"})
        self.assertEqual(code, 1, out)
        self.assertIn("a.h:1: [ISO9999]", out)

    def test_twice_in_the_book(self):
        code, out = run("check_citations.py", {"docs/bibliography.md": self.BOOK + self.BOOK})
        self.assertEqual(code, 1, out)


if __name__ == "__main__":
    unittest.main()
