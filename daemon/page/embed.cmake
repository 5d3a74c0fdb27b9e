# Writes a C++ source with the page's files in it. SOURCE: this folder; MODULES: the modules in order, joined by "|";
# OUT: the source. The modules become one: each after those that it imports, without the words import and export, and
# without comments and indentation, which no browser needs.
function(array name hex)
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "(................................................................................)" "\\1\n" bytes "${bytes}")
  set(arrays "${arrays}constexpr unsigned char ${name}[] = {\n${bytes}};\n" PARENT_SCOPE)
endfunction()

function(embed path type text_file)
  file(READ ${text_file} hex HEX)
  file(SHA256 ${text_file} digest)
  string(SUBSTRING ${digest} 0 16 digest)
  file(ARCHIVE_CREATE OUTPUT ${OUT}.gz PATHS ${text_file} FORMAT raw COMPRESSION GZip COMPRESSION_LEVEL 9)
  file(READ ${OUT}.gz packed HEX)
  file(REMOVE ${OUT}.gz)
  # The same text is the same file whenever it is built: no time of it (RFC 1952, MTIME).
  string(SUBSTRING "${packed}" 0 8 head)
  string(SUBSTRING "${packed}" 16 -1 tail)
  math(EXPR number "${count} + 1")
  set(count ${number} PARENT_SCOPE)
  array(file_${number} "${hex}")
  array(packed_${number} "${head}00000000${tail}")
  set(arrays "${arrays}" PARENT_SCOPE)
  set(rows "${rows}        {\"${path}\", \"${type}\", text_of(file_${number}), text_of(packed_${number}), \"\\\"${digest}\\\"\"},\n" PARENT_SCOPE)
endfunction()

string(REPLACE "|" ";" MODULES "${MODULES}")
set(joined "")
foreach(module IN LISTS MODULES)
  file(READ ${module} text)
  string(REGEX REPLACE "import [^;]*from \"[^\"]*\";\n" "" text "${text}")
  string(REGEX REPLACE "(^|\n)export " "\\1" text "${text}")
  string(REGEX REPLACE "/\\*\\*[^*]*\\*+([^/*][^*]*\\*+)*/ ?" "" text "${text}")
  string(REGEX REPLACE "\n *//[^\n]*" "" text "\n${text}")
  string(REGEX REPLACE "  // [^\n]*" "" text "${text}")
  string(REGEX REPLACE "\n[ \n]+" "\n" text "${text}")
  string(APPEND joined "${text}\n")
endforeach()
file(WRITE ${OUT}.js "${joined}")

file(READ ${SOURCE}/page.css style)
string(REGEX REPLACE "/\\*[^*]*\\*/" "" style "${style}")
string(REGEX REPLACE "\n *" "\n" style "${style}")
string(REPLACE "; }" "}" style "${style}")
string(REPLACE " {" "{" style "${style}")
string(REPLACE "{ " "{" style "${style}")
string(REPLACE ": " ":" style "${style}")
string(REPLACE "; " ";" style "${style}")
string(REPLACE ", " "," style "${style}")
file(WRITE ${OUT}.css "${style}")

set(count 0)
set(arrays "")
set(rows "")
embed("/" "text/html; charset=utf-8" ${SOURCE}/index.html)
embed("/page.css" "text/css; charset=utf-8" ${OUT}.css)
embed("/page.js" "text/javascript; charset=utf-8" ${OUT}.js)
embed("/page.webmanifest" "application/manifest+json" ${SOURCE}/page.webmanifest)
embed("/icon.svg" "image/svg+xml" ${SOURCE}/icon.svg)
embed("/api/openapi.json" "application/json" ${SOURCE}/../web/openapi.json)
embed("/api/asyncapi.json" "application/json" ${SOURCE}/../notices/mqtt/asyncapi.json)
file(WRITE ${OUT} "// Written by daemon/page/embed.cmake.
#include \"daemon/page/page.hpp\"

namespace ingle {
namespace {

${arrays}
template <std::size_t size>
std::string_view text_of(unsigned char const (&bytes)[size]) {
    return {reinterpret_cast<char const*>(bytes), size};
}

}  // namespace

std::span<PageFile const> page_files() {
    static PageFile const files[] = {
${rows}    };
    return files;
}

}  // namespace ingle
")
