"""Load the report with other words, and say what of its output is no wording."""

import ast
import importlib.abc
import importlib.machinery
import json
import re
import sys
import tempfile
from pathlib import Path

SENTENCE = re.compile(r"[^<>=:/_\[\]\\;]*[A-Za-z]{2,},? (?:\{\}|[A-Za-z]{2,})[^<>=/_\[\]\\]*")
LETTERS = re.compile(r"\{[^}]*\}|[A-Za-z]+")


def _ids():
    """The words that findings use as ids: the values of their literal types, such as a verdict."""
    tree = ast.parse((Path(__file__).parents[2] / "outcomes/findings/results/ids.py").read_text(encoding="utf-8"))
    literals = (
        each for each in ast.walk(tree) if isinstance(each, ast.Subscript) and ast.unparse(each.value) == "Literal"
    )
    return {part.value for each in literals for part in ast.walk(each) if isinstance(part, ast.Constant)}


IDS = _ids()


def reworded(text):
    """The text with its letters changed if it is a sentence or a part of one; else the text as it is."""
    if text in IDS or not SENTENCE.fullmatch(text):
        return text
    return LETTERS.sub(lambda found: found[0] if found[0].startswith("{") else "x" * len(found[0]), text)


class _Reword(ast.NodeTransformer):
    def visit_Constant(self, node):
        return ast.copy_location(ast.Constant(reworded(node.value)), node) if isinstance(node.value, str) else node


class _Loader(importlib.machinery.SourceFileLoader):
    def get_code(self, fullname):  # noqa: ARG002 - the name that the machinery gives
        return compile(ast.fix_missing_locations(_Reword().visit(ast.parse(self._text()))), self.path, "exec")

    def _text(self):
        return planted(Path(self.path).read_text(encoding="utf-8"), self.name)


class _Finder(importlib.abc.MetaPathFinder):
    def find_spec(self, fullname, path, target=None):
        if not fullname.startswith("outcomes.report"):
            return None
        spec = importlib.machinery.PathFinder.find_spec(fullname, path, target)
        if spec and spec.origin and spec.origin.endswith(".py"):
            spec.loader = (_Loader if "reworded" in sys.argv else _Plain)(fullname, spec.origin)
        return spec


class _Plain(_Loader):
    def get_code(self, fullname):  # noqa: ARG002 - the name that the machinery gives
        return compile(self._text(), self.path, "exec")


def planted(source, name):
    """The source, in which, if asked, a decision is planted that hangs on a sentence."""
    if "planted" not in sys.argv or name != "outcomes.report.export":
        return source
    return source.replace(
        "if table.rows", 'if table.rows and (table.id != "baseline" or table.title.startswith("Each"))'
    )


def outcome():
    """Write the report of the invented comparison and of a public one; give everything but the words."""
    from outcomes.protocol import default_protocol
    from outcomes.report import write_report
    from tests.report.invented import empty_comparison, invented_comparison, one_sided_comparison

    found = {"files": [], "numbers": {}, "tables": {}, "marks": {}}
    held = {"whole": invented_comparison(), "one-sided": one_sided_comparison(), "empty": empty_comparison()}
    with tempfile.TemporaryDirectory() as name:
        for which, comparison in held.items():
            folder = Path(name) / which
            files = write_report(comparison, default_protocol(), folder)
            names = sorted(file.relative_to(folder).as_posix() for file in files)
            found["files"].append([which, names])
            page = files[0].read_text(encoding="utf-8")
            found["numbers"][which] = re.findall(r'<span data-id="([^"]*)">[^<\d]*([\d.]*)', page)
            for file in files:
                if file.suffix == ".csv":
                    found["tables"][f"{which} {file.name}"] = shape(file.read_text(encoding="utf-8-sig"))
                if file.suffix == ".svg":
                    drawn = file.read_text(encoding="utf-8")
                    found["marks"][f"{which} {file.name}"] = sorted(
                        re.findall(r'aria-roledescription="([^"]*)"', drawn)
                    )
    return found


def shape(text):
    """The heading of a table and its numbers of rows."""
    return [text.splitlines()[0], len(text.splitlines())]


if __name__ == "__main__":
    sys.meta_path.insert(0, _Finder())
    print(json.dumps(outcome()))
