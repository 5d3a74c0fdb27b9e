#!/bin/bash
# Every C++ file stands as .clang-format wants it.
set -euo pipefail
cd "$(dirname "$0")/../.."
git ls-files '*.cpp' '*.hpp' | xargs clang-format --dry-run -Werror
