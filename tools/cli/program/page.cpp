#include "tools/cli/program/page.hpp"

#include <ostream>
#include <sstream>

#include "tools/cli/output/fitted.hpp"

namespace ingle::cli {

int on_a_page(Context const& context, std::function<int(Context&)> const& run) {
    std::ostringstream text;
    Context page{context.state, text, {}};
    int const status = run(page);
    context.out << fitted_to_terminal(text.str());
    return status;
}

}  // namespace ingle::cli
