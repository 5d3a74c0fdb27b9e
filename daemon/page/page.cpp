#include "daemon/page/page.hpp"

#include <algorithm>

namespace ingle {

PageFile const* page_file(std::string_view path) {
    auto const files = page_files();
    auto const found = std::ranges::find(files, path, &PageFile::path);
    return found == files.end() ? nullptr : &*found;
}

}  // namespace ingle
