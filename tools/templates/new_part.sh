# Sourced by tools/new_watch, new_channel and new_command: a part's name in its three spellings, and copies of templates.

# part_name USAGE ARGUMENT...: sets name (probe-cold), folder (probe_cold) and type (ProbeCold), or ends with status 2.
part_name() {
  local usage=$1 word words
  shift
  case "${1:-}" in
    -h | --help) sed -n '2,3s/^# //p' "$0"; exit 0 ;;
  esac
  name=${1:-}
  name=${name//_/-}
  if [ $# -ne 1 ] || ! [[ $name =~ ^[a-z][a-z0-9]*(-[a-z0-9]+)*$ ]]; then
    echo "usage: $usage: lower case, digits, '-' between words" >&2
    exit 2
  fi
  folder=${name//-/_}
  type=""
  IFS=- read -ra words <<<"$name"
  for word in "${words[@]}"; do type+=${word^}; done
}

# not_taken PATH...: ends with status 1 if one of them is there.
not_taken() {
  local taken
  for taken in "$@"; do
    if [ -e "$taken" ]; then
      echo "$(basename "$0"): $taken is there already" >&2
      exit 1
    fi
  done
}

# from_template TEMPLATE FILE: writes FILE with the part's names in it.
from_template() {
  mkdir -p "$(dirname "$2")"
  sed -e "s/@name@/$name/g" -e "s/@folder@/$folder/g" -e "s/@type@/$type/g" "tools/templates/$1" >"$2"
  if command -v clang-format >/dev/null; then clang-format -i "$2"; fi
}
