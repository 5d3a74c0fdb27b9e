// The page behind a link of a notice: a document without a script, in which looking does nothing and a button
// does the one act. Pure; any thread.
#pragma once

#include <string>

#include "daemon/web/routes.hpp"

namespace ingle {

// `used`: the button was pressed.
Response link_page(std::string const& kitchen, NoticeLink const& link, bool used);

}  // namespace ingle
