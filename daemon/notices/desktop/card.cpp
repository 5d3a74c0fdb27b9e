#include "daemon/notices/desktop/card.hpp"
#include "daemon/model/markup.hpp"

#include <algorithm>

namespace ingle::desktop {

Card card_of(Notice const& notice, Abilities const& desktop, std::string const& shelve_label) {
    Card card;
    auto const line = std::min(notice.text.find('\n'), notice.text.size());
    auto const sentence = std::min(notice.text.find(". "), line);
    card.summary = notice.text.substr(0, sentence);
    if (card.summary.ends_with('.')) card.summary.pop_back();
    auto const rest = notice.text.find_first_not_of(". \n", sentence);
    if (rest != std::string::npos) card.body = notice.text.substr(rest);
    if (notice.late)
        card.body += (card.body.empty() ? "" : "\n") +
                     std::string("This notice is late: it could not be shown before.");
    if (desktop.markup) card.body = escaped(card.body);
    bool const over = notice.kind == "cleared";
    if (!over) card.urgency = notice.priority == "high" ? 2 : notice.priority == "medium" ? 1 : 0;
    bool const asks = !over && notice.kind != "test" && !notice.alarms.empty();
    if (asks && card.urgency > 0) card.expires_ms = 0;
    if (asks && desktop.actions) card.actions = {acknowledge_word, "Acknowledge", shelve_word, shelve_label};
    return card;
}

}  // namespace ingle::desktop
