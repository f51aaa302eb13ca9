"""The files of the tree as tests/tidy reads them, and C++ with its comments and strings blanked.

Positions survive blanking: every line keeps its number and its length.
"""
import re
import subprocess
from pathlib import Path
from typing import NamedTuple

CPP = (".cpp", ".hpp", ".h")


class Finding(NamedTuple):
    path: str
    line: int  # 0: the file as a whole
    text: str

    def told(self):
        return f"{self.path}:{self.line}: {self.text}" if self.line else f"{self.path}: {self.text}"


class Tree:
    """Path -> text. Self-tests make their own; the real one is what git would keep."""

    def __init__(self, files, modes=None):
        self.files = dict(files)
        self.modes = modes or {}
        self._code = {}

    @staticmethod
    def of(root):
        names = subprocess.run(
            # The checkout may be another user's, as in a container.
            ["git", "-c", "safe.directory=*", "ls-files", "-z", "--cached", "--others",
             "--exclude-standard"],
            cwd=root, check=True, capture_output=True).stdout.decode().split("\0")
        files, modes = {}, {}
        for name in sorted(filter(None, names)):
            path = Path(root) / name
            if not path.is_file():
                continue  # deleted, and not yet committed so
            modes[name] = path.stat().st_mode
            try:
                files[name] = path.read_text(encoding="utf-8")
            except UnicodeDecodeError:
                files[name] = ""
        return Tree(files, modes)

    def under(self, *folders, ends=CPP):
        """(path, text) below these folders with one of these endings."""
        for path, text in self.files.items():
            if path.startswith(tuple(f + "/" for f in folders)) and path.endswith(ends):
                yield path, text

    def code(self, path):
        """The text of a C++ file without comments and literals."""
        if path not in self._code:
            self._code[path] = blanked(self.files[path])
        return self._code[path]


_TOKENS = re.compile(
    r'//[^\n]*|/\*.*?\*/|R"(?P<end>[^()\\\s]*)\(.*?\)(?P=end)"|"(?:\\.|[^"\\\n])*"'
    r"|(?<![0-9a-fA-F])'(?:\\.|[^'\\\n])+'", re.S)


def blanked(text):
    """C++ with comments and the inside of literals as spaces; includes keep their names."""
    def blank(match):
        word = match.group(0)
        line_start = text.rfind("\n", 0, match.start()) + 1
        if text[line_start:match.start()].lstrip().startswith("#include"):
            return word
        hollow = re.sub(r"[^\n]", " ", word)
        return hollow if word.startswith("/") else word[0] + hollow[1:-1] + word[-1]

    return _TOKENS.sub(blank, text)


def line_of(text, position):
    return text.count("\n", 0, position) + 1


class Function(NamedTuple):
    name: str
    line: int
    lines: int


_SCOPE = re.compile(r"^\s*(inline\s+)?(namespace|class|struct|union|enum|extern)\b")


def functions(code):
    """Every function of blanked C++ with its length in lines, its head counted."""
    found, stack, head_start = [], [], 0
    for match in re.finditer(r"[{};]|^[ \t]*#(?:[^\n]*\\\n)*[^\n]*$", code, re.M):
        sign = match.group(0).lstrip()[0]
        inside = any(kind == "function" for kind, *_ in stack)
        ends_head = True
        if sign == "{":
            head = code[head_start:match.start()]
            kind = "initialiser" if inside else _kind(head)
            stack.append((kind, head, head_start))
            ends_head = kind != "initialiser"
        elif sign == "}" and stack:
            kind, head, start = stack.pop()
            if kind == "function":
                first = line_of(code, start + len(head) - len(head.lstrip()))
                found.append(Function(_name(head), first, line_of(code, match.start()) - first + 1))
            ends_head = kind != "initialiser"
        if ends_head and not (sign == "#" and inside):
            head_start = match.end()
    return found


def _kind(head):
    bare = re.sub(r"template\s*<[^{};]*?>\s*(?=[a-z])", "", re.sub(r"\[\[[^\]]*\]\]", "", head))
    bare = re.sub(r"\b(public|private|protected)\s*:", "", bare)
    if _SCOPE.match(bare) and not re.search(r"\)\s*(const|noexcept|override|->[^=]*)*\s*$", bare):
        return "scope"
    if "(" not in bare:
        return "initialiser"
    # An initialiser, `= {` or a member's `name_{`, belongs to the head it stands in.
    last = bare.rstrip()
    if last.endswith(("=", ",", "return")) or re.search(r"[:,]\s*\w+$", last):
        return "initialiser"
    if re.search(r"=[^=()]*$", last) or \
            re.match(r"^\s*(const|constexpr|inline|static|auto)\b[^(]*=", last):
        return "initialiser"
    return "function"


def _name(head):
    match = re.search(r"([~\w:]+(?:\s*(?:[-+*/=<>!]=?|\(\)|\[\]))?)\s*\(", head)
    name = match.group(1) if match else "?"
    if name in ("TEST", "TEST_F", "TEST_P", "TYPED_TEST"):
        inner = re.search(r"\(\s*(\w+)\s*,\s*(\w+)", head)
        return f"{inner.group(1)}.{inner.group(2)}" if inner else name
    return name
