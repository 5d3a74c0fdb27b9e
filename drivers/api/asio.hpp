// The only way Asio comes in: Boost 1.74's awaitable.hpp needs <utility> first.
#pragma once

#include <utility>

#include <boost/asio.hpp>
