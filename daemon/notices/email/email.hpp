// A mail as a way to send a notice.
#pragma once

#include <memory>

#include "daemon/notices/email/talk.hpp"
#include "daemon/notices/notifier.hpp"

namespace ingle::email {

// As NotifierInfo::make.
std::unique_ptr<Notifier> make_email(FreeKeys const& keys, Patience const& patience);

}  // namespace ingle::email
