"""The mutants of C++ source: each number and each comparison, one at a time, all of them in one build.

A number n becomes number(id, n, n'), a comparison `a < b` becomes `a < Compare{id} > b`, which has the same
precedence; the environment variable MUTANT says which one is alive. `constexpr` is taken off where the value is no
longer one; lines that do not compile that way are left as they were and counted."""
import re
from dataclasses import dataclass

HEADER = r"""#pragma once
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <type_traits>
#include <variant>
#include <vector>
namespace mutation {
inline int alive() {
    static int const id = [] { auto const* set = std::getenv("MUTANT"); return set ? std::atoi(set) : 0; }();
    return id;
}
constexpr bool is_alive(int id) { return !std::is_constant_evaluated() && alive() == id; }
template <class T> constexpr T number(int id, T value, T other) { return is_alive(id) ? other : value; }
template <int id, int op> struct Compare {};
template <class T, int id, int op> struct Left { T const& value; };
template <class T, int id, int op> constexpr Left<T, id, op> operator<(T const& a, Compare<id, op>) { return {a}; }
template <class T, int id, int op> constexpr Left<T, id, op> operator==(T const& a, Compare<id, op>) { return {a}; }
template <int op, class T, class U> constexpr bool holds(T const& a, U const& b, bool turned) {
    if constexpr (op == 0) return turned ? a >= b : a < b;
    if constexpr (op == 1) return turned ? a > b : a <= b;
    if constexpr (op == 2) return turned ? a <= b : a > b;
    if constexpr (op == 3) return turned ? a < b : a >= b;
    if constexpr (op == 4) return turned ? a != b : a == b;
    if constexpr (op == 5) return turned ? a == b : a != b;
}
template <class T, int id, int op, class U> constexpr bool operator>(Left<T, id, op> a, U const& b) {
    return holds<op>(a.value, b, is_alive(id));
}
template <class T, int id, int op, class U> constexpr bool operator==(Left<T, id, op> a, U const& b) {
    return holds<op>(a.value, b, is_alive(id));
}
}  // namespace mutation
using mutation::operator<;
using mutation::operator>;
using mutation::operator==;
"""
OPERATORS = ["<", "<=", ">", ">=", "==", "!="]
TURNED = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
TOKEN = re.compile(r"""
    (?P<skip>//[^\n]*|/\*.*?\*/|R"\((?:.|\n)*?\)"|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])'|^[ \t]*\#[^\n]*
             |static_assert\s*\([^;]*;|operator\s*[<>=!]+|<=>)
  | (?P<compare>(?<=[ ])(?:<=|>=|==|!=|<|>)(?=[ ]))
  | (?P<number>(?<![\w.])\d[\d']*(?:\.\d*)?(?:[eE][+-]?\d+)?(?![\w.]))
  | (?P<constexpr>(?:(?:static|inline)[ ])?\bconstexpr\b)
""", re.VERBOSE | re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Mutant:
    id: int
    file: str
    line: int
    what: str  # "41 becomes 45.1", "< becomes >="
    code: str


def other_number(text):
    plain = text.replace("'", "")
    if re.fullmatch(r"\d+", plain):
        value = int(plain)
        return str(value + max(1, round(0.1 * value)))
    value = float(plain)
    return repr(value * 1.1 if value else 1.0)


def is_function(rest):
    """Of the declaration after `constexpr`: is it a function?"""
    opening = re.search(r"[({=;]", rest)
    return bool(opening) and opening.group() == "("


def instrument(name, source, first_id, plain_lines):
    """(instrumented source, mutants, how many numbers and comparisons there are) of one file. Numbers and comparisons
    on `plain_lines` stay as they are, and so does `constexpr` there; the others keep their ids."""
    out, found, count, end, constant_to = [], [], 0, 0, 0
    lines = source.split("\n")
    for match in TOKEN.finditer(source):
        line, text = source.count("\n", 0, match.start()) + 1, match.group()
        initial = name.endswith(".hpp") and re.match(r"0[,;]", source[match.start():match.start() + 2])
        if match.lastgroup == "skip" or (match.lastgroup == "number" and initial):
            continue  # `initial`: what a member holds before anything happened
        if match.lastgroup != "constexpr":
            count += 1
        if line in plain_lines and match.lastgroup == "constexpr" and not is_function(source[match.end():]):
            constant_to = source.find(";\n", match.end())
        if line in plain_lines or match.start() < constant_to:
            continue
        here = first_id + count - 1
        if match.lastgroup == "constexpr":
            if source[max(0, match.start() - 3):match.start()] == "if ":
                continue
            new = without_constexpr(source, match, lines, line)
        elif match.lastgroup == "number":
            other = other_number(text)
            new = f"::mutation::number({here}, {text}, {other})"
            found.append(Mutant(here, name, line, f"{text} becomes {other}", lines[line - 1].strip()))
        else:
            inner = f"::mutation::Compare<{here}, {OPERATORS.index(text)}>{{}}"
            new = f"== {inner} ==" if text in ("==", "!=") else f"< {inner} >"
            found.append(Mutant(here, name, line, f"{text} becomes {TURNED[text]}", lines[line - 1].strip()))
        out += [source[end:match.start()], new]
        end = match.end()
    out.append(source[end:])
    return "".join(out), found, count


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
