"""The mutants of C++ source: each number and each comparison, one at a time, nearly all of them in one build.

A number n becomes number(id, n, n', n''), a comparison `a < b` becomes `a < Compare{id} > b`, which has the same
precedence. The environment variable MUTANT says which one is alive: id + "a" is n' (a tenth more) or the comparison
turned round, id + "b" is n'' (a tenth less) or the comparison with its limit on the other side (`<` for `<=`). Where a
number must be known to the compiler (the size of an array), `constexpr` stays and the mutant is compiled by itself."""
import re
from dataclasses import dataclass

HEADER = r"""#pragma once
#include <cstdio>
#include <cstdlib>
#include <string>
#include <type_traits>
namespace mutation {
inline std::string const& which() {
    static std::string const set = std::getenv("MUTANT") ? std::getenv("MUTANT") : "";
    return set;
}
inline int alive() {
    static int const id = std::atoi(which().c_str());
    return id;
}
inline bool is_second() {
    static bool const second = which().ends_with("b");
    return second;
}
// Which numbers and comparisons a run comes to; written to the file MUTANTS_REACHED at its end.
inline bool reached_at[1 << 14];  // zero before any constant is computed
struct Reached {
    char const* file = std::getenv("MUTANTS_REACHED");
    ~Reached() {
        auto* out = file ? std::fopen(file, "w") : nullptr;
        if (!out) return;
        for (int id = 0; id < 1 << 14; ++id)
            if (reached_at[id]) std::fprintf(out, "%d\n", id);
        std::fclose(out);
    }
};
inline Reached reached;
inline bool is_alive(int id) {
    reached_at[id] = true;
    return alive() == id;
}
// None of these is constexpr: a constant initialiser would be computed by the compiler, and its mutant never alive.
template <class T> T number(int id, T value, T more, T less) {
    return !is_alive(id) ? value : is_second() ? less : more;
}
template <int id, int op> struct Compare {};
template <class T, int id, int op> struct Left { T const& value; };
template <class T, int id, int op> Left<T, id, op> operator<(T const& a, Compare<id, op>) { return {a}; }
template <class T, int id, int op> Left<T, id, op> operator==(T const& a, Compare<id, op>) { return {a}; }
template <int op, class T, class U> bool holds(T const& a, U const& b, int how) {
    if constexpr (op == 0) return how == 0 ? a < b : how == 1 ? a >= b : a <= b;
    if constexpr (op == 1) return how == 0 ? a <= b : how == 1 ? a > b : a < b;
    if constexpr (op == 2) return how == 0 ? a > b : how == 1 ? a <= b : a >= b;
    if constexpr (op == 3) return how == 0 ? a >= b : how == 1 ? a < b : a > b;
    if constexpr (op == 4) return how == 0 ? a == b : a != b;
    if constexpr (op == 5) return how == 0 ? a != b : a == b;
}
inline int how(int id) { return !is_alive(id) ? 0 : is_second() ? 2 : 1; }
template <class T, int id, int op, class U> bool operator>(Left<T, id, op> a, U const& b) {
    return holds<op>(a.value, b, how(id));
}
template <class T, int id, int op, class U> bool operator==(Left<T, id, op> a, U const& b) {
    return holds<op>(a.value, b, how(id));
}
}  // namespace mutation
using mutation::operator<;
using mutation::operator>;
using mutation::operator==;
"""
OPERATORS = ["<", "<=", ">", ">=", "==", "!="]
TURNED = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
LIMIT = {"<": "<=", "<=": "<", ">": ">=", ">=": ">"}
ARRAY = re.compile(r"std::array<[^;{}()]*>")
CASE = re.compile(r"\bcase [^:]*:")
TOKEN = re.compile(r"""
    (?P<skip>//[^\n]*|/\*.*?\*/|R"\((?:.|\n)*?\)"|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])'|^[ \t]*\#[^\n]*
             |static_assert\s*\([^;]*;|operator\s*[<>=!]+|<=>)
  | (?P<compare>(?<=[ ])(?:<=|>=|==|!=|<|>)(?=[ ]))
  | (?P<number>(?<![\w.])\d[\d']*(?:\.\d*)?(?:[eE][+-]?\d+)?(?![\w.]))
  | (?P<constexpr>(?:(?:static|inline)[ ])?\bconstexpr\b)
""", re.VERBOSE | re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Mutant:
    id: str  # "17a"
    file: str
    line: int
    what: str  # "41 becomes 45.1", "< becomes >="
    code: str
    at: tuple = None  # where in the source and by what, if it is compiled by itself

    @property
    def first(self):
        return self.id.endswith("a")

    @property
    def name(self):
        """The same wherever the line moves to."""
        return f"{self.file}: {self.what}: {self.code}"


def other_numbers(text):
    plain = text.replace("'", "")
    if re.fullmatch(r"\d+", plain):
        value = int(plain)
        by = max(1, round(0.1 * value))
        return str(value + by), str(value - by)
    value = float(plain)
    return (repr(value * 1.1), repr(value * 0.9)) if value else ("1.0", "-1.0")


def is_function(rest):
    """Of the declaration after `constexpr`: is it a function?"""
    opening = re.search(r"[({=;]", rest)
    return bool(opening) and opening.group() == "("


def known_to_the_compiler(source):
    """Spans of the source that stay constant expressions: sizes of arrays, the constants they are made of, cases."""
    spans = [m.span() for m in ARRAY.finditer(source)]
    names = {name for a, b in spans for name in re.findall(r"\b[a-z]\w*\b", source[a:b])}
    for match in re.finditer(r"[ \t]*(?:static |inline )?constexpr (?:int|std::size_t) ([^;(]*);", source):
        if names & set(re.findall(r"\b([a-z]\w*) =", match.group(1))):
            spans.append(match.span())
    return spans + [m.span() for m in CASE.finditer(source)]


def others_of(kind, text):
    """What stands in place of a number or comparison, one after the other."""
    if kind == "number":
        return other_numbers(text)
    return (TURNED[text], LIMIT[text]) if text in LIMIT else (TURNED[text],)


def instrument(name, source, first_id):
    """(instrumented source, mutants, highest id) of one file."""
    out, found, number, end = [], [], first_id - 1, 0
    lines = source.split("\n")
    constant = known_to_the_compiler(source)
    for match in TOKEN.finditer(source):
        kind, text, start = match.lastgroup, match.group(), match.start()
        initial = name.endswith(".hpp") and re.match(r"0[,;]", source[start:start + 2])
        if kind == "skip" or (kind == "number" and initial):
            continue  # `initial`: what a member holds before anything happened
        line, itself = source.count("\n", 0, start) + 1, any(a <= start < b for a, b in constant)
        if kind == "constexpr":
            if itself or source[max(0, start - 3):start] == "if ":
                continue
            new = without_constexpr(source, match, lines, line)
        else:
            number += 1
            for other, letter in zip(others_of(kind, text), "ab"):
                found.append(Mutant(f"{number}{letter}", name, line, f"{text} becomes {other}",
                                    lines[line - 1].strip(), (start, match.end(), other) if itself else None))
            if itself:
                continue
            new = in_place_of(kind, text, number)
        out += [source[end:start], new]
        end = match.end()
    out.append(source[end:])
    return "".join(out), found, number


def in_place_of(kind, text, number):
    if kind == "number":
        more, less = other_numbers(text)
        return f"::mutation::number({number}, {text}, {more}, {less})"
    inner = f"::mutation::Compare<{number}, {OPERATORS.index(text)}>{{}}"
    return f"== {inner} ==" if text in ("==", "!=") else f"< {inner} >"


def without_constexpr(source, match, lines, line):
    """What stands in place of `constexpr`, `static constexpr` or `inline constexpr`."""
    text = match.group()
    if is_function(source[match.end():]):
        return "static" if text.startswith("static") else "inline"
    if text.startswith("inline"):
        return "inline const"
    return "static inline const" if text.startswith("static") and is_member(lines, line) else "static const"


def is_member(lines, line):
    """Is an indented line inside a class, and not inside a function?"""
    for text in reversed(lines[:line - 1]):
        if re.match(r"(class|struct)\b", text):
            return True
        if re.match(r"\S.*\)\s*(const\s*)?\{$", text):
            return False
    return False
