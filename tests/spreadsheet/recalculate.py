#!/usr/bin/env python3
"""Has a spreadsheet program compute workbooks from nothing, and compares every formula with the value it had.

    recalculate.py same PROGRAM FOLDER FILE...
    recalculate.py changed PROGRAM FOLDER FILE OTHER [FILE OTHER]...

PROGRAM is `soffice` or `ssconvert`; FOLDER is for scratch. All values of formulas are taken out of a copy first, so
that a program which computes nothing has nothing to show.

`same`: each formula comes to the value written beside it. `changed`: the facts of OTHER are put into FILE, which then
comes to what stands in OTHER, line by line; pairs whose formulas are not the same are counted apart, because their
plans differ.

The standard library is all it needs. It knows nothing of the program that wrote the files but the format (ISO/IEC
29500-1) and that lines have names that begin with L, and facts names that begin with FACT.
"""

import os
import re
import subprocess
import sys
import zipfile
from decimal import Decimal
from xml.etree import ElementTree

SPACE = {"s": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}
RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
MAIN = "{%s}" % SPACE["s"]
# Amounts are cents at the finest where they stand on a line; a share has more digits.
CLOSE = Decimal("0.000001")


class Book:
    """A workbook as read: its tabs' cells, and its names."""

    def __init__(self, path):
        with zipfile.ZipFile(path) as archive:
            self.parts = {name: archive.read(name) for name in archive.namelist()}
        book = ElementTree.fromstring(self.parts["xl/workbook.xml"])
        targets = {
            one.get("Id"): one.get("Target").lstrip("/")
            for one in ElementTree.fromstring(self.parts["xl/_rels/workbook.xml.rels"])
        }
        self.strings = []
        if "xl/sharedStrings.xml" in self.parts:
            for one in ElementTree.fromstring(self.parts["xl/sharedStrings.xml"]).findall("s:si", SPACE):
                self.strings.append("".join(part.text or "" for part in one.iter(MAIN + "t")))
        self.paths, self.cells = {}, {}
        for sheet in book.find("s:sheets", SPACE):
            target = targets[sheet.get(RELATION)]
            path = target if target.startswith("xl/") else "xl/" + target
            self.paths[sheet.get("name")] = path
            tree = ElementTree.fromstring(self.parts[path])
            self.cells[sheet.get("name")] = {cell.get("r"): cell for cell in tree.iter(MAIN + "c")}
        self.names = {}
        names = book.find("s:definedNames", SPACE)
        for one in names if names is not None else []:
            match = re.fullmatch(r"'?((?:[^']|'')+?)'?!\$([A-Z]+)\$(\d+)", one.text or "")
            if match and one.get("localSheetId") is None:
                self.names[one.get("name")] = (match[1].replace("''", "'"), match[2] + match[3])

    def value(self, tab, cell):
        """A number, words, or nothing."""
        one = self.cells[tab].get(cell)
        if one is None:
            return None
        kind = one.get("t")
        if kind == "inlineStr":
            return "".join(part.text or "" for part in one.iter(MAIN + "t"))
        text = one.findtext("s:v", None, SPACE)
        if kind == "s":
            return self.strings[int(text)]
        if kind in ("str", "e", "b"):
            return text or ""
        return None if text is None else Decimal(text)

    def formulas(self):
        for tab, cells in self.cells.items():
            for place, one in cells.items():
                formula = one.find("s:f", SPACE)
                if formula is not None:
                    yield tab, place, formula.text

    def stripped(self, path, inputs=None):
        """Writes a copy whose formulas have no value, with other values in some cells."""
        inputs = inputs or {}
        parts = dict(self.parts)
        for tab, part in self.paths.items():
            text = parts[part].decode()
            text, count = re.subn(r"(</f>)<v>[^<]*</v>", r"\1", text)
            formulas = sum(1 for one in self.cells[tab].values() if one.find("s:f", SPACE) is not None)
            assert count == formulas, "a formula without its value"
            for (where, cell), value in inputs.items():
                if where == tab:
                    text, count = re.subn(
                        r'(<c r="%s" s="\d+">)<v>[^<]*</v>' % cell, r"\g<1><v>%s</v>" % value, text
                    )
                    assert count == 1, f"{tab} {cell} is no number to be changed"
            parts[part] = text.encode()
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, bytes in parts.items():
                archive.writestr(name, bytes)


def computed(program, folder, files):
    """Has the program compute files; returns where each came out."""
    out = os.path.join(folder, "out")
    os.makedirs(out, exist_ok=True)
    results = [os.path.join(out, os.path.basename(one)) for one in files]
    if program == "soffice":
        profile = os.path.join(folder, "profile")
        os.makedirs(os.path.join(profile, "user"), exist_ok=True)
        with open(os.path.join(profile, "user", "registrymodifications.xcu"), "w") as file:
            file.write(
                '<?xml version="1.0" encoding="UTF-8"?><oor:items xmlns:oor="http://openoffice.org/2001/registry">'
                '<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" '
                'oor:op="fuse"><value>0</value></prop></item></oor:items>'
            )
        for some in range(0, len(files), 50):
            command = ["soffice", "-env:UserInstallation=file://" + os.path.abspath(profile), "--headless"]
            command += ["--convert-to", "xlsx", "--outdir", out] + files[some : some + 50]
            done = subprocess.run(command, capture_output=True, text=True)
            if done.returncode:
                sys.exit(f"soffice failed: {done.stdout}{done.stderr}")
    else:
        for file, result in zip(files, results):
            done = subprocess.run(["ssconvert", "--recalc", file, result], capture_output=True, text=True)
            if done.returncode:
                sys.exit(f"ssconvert failed: {done.stdout}{done.stderr}")
    return results


def alike(one, other):
    if isinstance(one, Decimal) and isinstance(other, Decimal):
        return abs(one - other) <= CLOSE
    return (one or "") == (other or "")


def same(program, folder, files):
    count, wrong = 0, []
    # Not all at once: each is some megabytes in memory.
    for begin in range(0, len(files), 50):
        some = files[begin : begin + 50]
        copies = [os.path.join(folder, f"{begin + n}.xlsx") for n in range(len(some))]
        for file, copy in zip(some, copies):
            Book(file).stripped(copy)
        for file, result in zip(some, computed(program, folder, copies)):
            book, after = Book(file), Book(result)
            for tab, cell, formula in book.formulas():
                count += 1
                if not alike(book.value(tab, cell), after.value(tab, cell)):
                    wrong.append(
                        f"{file}: {tab} {cell}: {after.value(tab, cell)!r} and not {book.value(tab, cell)!r}, by ={formula[:400]}"
                    )
    return count, wrong, f"{len(files)} workbooks, {count} formulas"


def changed(program, folder, files):
    pairs = list(zip(files[::2], files[1::2]))
    used, copies = [], []
    for n, (file, other) in enumerate(pairs):
        book, target = Book(file), Book(other)
        lines = [name for name in book.names if name.startswith("L") and name in target.names]

        def plan(one):
            formula = {(tab, cell): text for tab, cell, text in one.formulas()}
            said = {name: one.value(*one.names[name]) for name in one.names if name.startswith("COUNTS")}
            # How many years ahead there are follows from the amounts, so these lines are planned anew.
            named = [name for name in one.names if re.match(r"L(?!6[56]\d_)", name)]
            return {name: formula.get(one.names[name]) for name in named}, said

        if plan(book) != plan(target):
            continue
        inputs = {}
        for name, place in book.names.items():
            if name.startswith("FACT"):
                value = target.value(*target.names[name]) if name in target.names else None
                if isinstance(value, Decimal) and value != book.value(*place):
                    inputs[place] = value
        assert inputs, f"nothing differs between {file} and {other}"
        copies.append(os.path.join(folder, f"changed-{n}.xlsx"))
        book.stripped(copies[-1], inputs)
        used.append((file, book, target, lines, len(inputs)))
    count, moved, wrong = 0, 0, []
    for (file, book, target, lines, inputs), result in zip(used, computed(program, folder, copies)):
        after = Book(result)
        said = after.value(*after.names["INPUTS_CHANGED"])
        if said != inputs:
            wrong.append(f"{file}: {inputs} inputs were changed, and the workbook says {said!r}")
        for name in lines:
            count += 1
            got, wanted = after.value(*book.names[name]), target.value(*target.names[name])
            moved += not alike(wanted, book.value(*book.names[name]))
            if not alike(got, wanted):
                wrong.append(f"{file}: {name}: {got!r} and not {wanted!r}")
    return count, wrong, f"{len(used)} of {len(pairs)} pairs, {count} lines, of which {moved} moved"


if __name__ == "__main__":
    how, program, folder, *files = sys.argv[1:]
    count, wrong, said = {"same": same, "changed": changed}[how](program, folder, files)
    for one in wrong:
        print(one)
    print(said)
    sys.exit(1 if wrong or not count else 0)
