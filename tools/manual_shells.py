"""The completions of bash, zsh and fish for `ingle`, from what the program declares of itself (tools/manual). Each walks
the words to the command that they name, stepping over the values of options, and offers what that command declares."""
import re
import shlex

MADE = "# Completes `ingle` in {}. Made by tools/manual from what the program declares.\n"


def walk(command, at=""):
    """Each command with where it stands: "" is the program, " probe read" one that is two words deep."""
    yield at, command
    for below in command["commands"]:
        yield from walk(below, f"{at} {below['name']}")


def named(command):
    return [option for option in command["options"] if option["names"]]


def takes_a_file(option):
    return bool(re.search(r"\b(file|folder|recording|page)\b", option["help"].replace("in the kitchen file", ""))
                or option["value"] in ("FILE", "KITCHEN", "RECORDING"))


def files_at(command):
    return any(takes_a_file(option) for option in command["options"] if not option["names"])


def with_values(declared):
    """"COMMAND OPTION" and the option, for each that is followed by a value."""
    return [(f"{at} {name}", option) for at, command in walk(declared) for option in named(command) if "value" in option
            for name in option["names"]]


def values_case(declared):
    """A case of the shell for "COMMAND OPTION": it sets `list` and `files`; 1 where no value follows."""
    out = "_ingle_value() {\n  case $1 in\n"
    for place, option in with_values(declared):
        out += f"    {shlex.quote(place)}) list={shlex.quote(' '.join(option['words']))} files={int(takes_a_file(option))} ;;\n"
    return out + "    *) return 1 ;;\n  esac\n}\n"


# To the command that the words before the last one name; `waits`: the last one is the value of an option.
WALK = """  for word in {}; do
    if ((waits)); then
      waits=0
    elif _ingle_value "$at $word"; then
      waits=1
    elif _ingle_command "$at $word"; then
      at+=" $word"
    fi
  done
"""


def bash(declared):
    out = MADE.format("bash") + values_case(declared) + "_ingle_command() {\n  case $1 in\n"
    for at, command in walk(declared):
        below = " ".join(one["name"] for one in command["commands"])
        options = " ".join(name for option in named(command) for name in option["names"])
        out += f"    {shlex.quote(at)}) list={shlex.quote(below)} options={shlex.quote(options)} files={int(files_at(command))} ;;\n"
    return out + """    *) return 1 ;;
  esac
}
_ingle() {
  local at="" word waits=0 now=${COMP_WORDS[COMP_CWORD]} list="" options="" files=0
""" + WALK.format('"${COMP_WORDS[@]:1:COMP_CWORD-1}"') + """  if ! ((waits)); then
    _ingle_command "$at"
    [[ $now == -* ]] && list=$options
  fi
  mapfile -t COMPREPLY < <(compgen -W "$list" -- "$now")
  if ((files)) && [[ $now != -* ]]; then
    compopt -o filenames 2>/dev/null
    mapfile -t -O ${#COMPREPLY[@]} COMPREPLY < <(compgen -f -- "$now")
  fi
}
complete -F _ingle ingle
"""


def zsh(declared):
    def described(name, option):
        return shlex.quote(f"{name}:{option['help']}".replace("\n", " "))
    out = "#compdef ingle\n" + MADE.format("zsh") + values_case(declared) + "_ingle_command() {\n  case $1 in\n"
    for at, command in walk(declared):
        below = " ".join(described(one["name"], one) for one in command["commands"])
        options = " ".join(described(name, option) for option in named(command) for name in option["names"])
        out += f"    {shlex.quote(at)})\n      commands=({below})\n      options=({options})\n      files={int(files_at(command))} ;;\n"
    return out + """    *) return 1 ;;
  esac
}
_ingle() {
  local at="" word waits=0 list="" files=0
  local -a commands options
""" + WALK.format('"${(@)words[2,CURRENT-1]}"') + """  if ((waits)); then
    [[ -n $list ]] && compadd -- ${=list}
  else
    _ingle_command "$at"
    ((${#commands})) && _describe -t commands command commands
    [[ $PREFIX == -* ]] && _describe -o -t options option options
  fi
  ((files)) && _files
}
_ingle "$@"
"""


def fish(declared):
    commands = " ".join(shlex.quote(at) for at, _ in walk(declared) if at)
    values = " ".join(shlex.quote(place) for place, _ in with_values(declared))
    out = MADE.format("fish") + f"""function __ingle_at
    set -l at ''
    set -l waits 0
    for word in (commandline -opc)[2..-1]
        if test $waits = 1
            set waits 0
        else if contains -- "$at $word" {values}
            set waits 1
        else if contains -- "$at $word" {commands}
            set at "$at $word"
        end
    end
    test "$at" = "$argv[1]"
end
complete -c ingle -f
"""
    for at, command in walk(declared):
        here = f"complete -c ingle -n {shlex.quote(f'__ingle_at {shlex.quote(at)}')}"
        if files_at(command):
            out += f"{here} -F\n"
        for below in command["commands"]:
            out += f"{here} -a {below['name']} -d {fish_quoted(below['help'])}\n"
        for option in named(command):
            names = " ".join(f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}" for name in option["names"])
            value = ("" if "value" not in option else " -r -F" if takes_a_file(option) else
                     f" -x -a {shlex.quote(' '.join(option['words']))}" if option["words"] else " -x")
            out += f"{here} {names}{value} -d {fish_quoted(option['help'])}\n"
    return out


def fish_quoted(text):
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'").replace("\n", " ") + "'"
