// Catch2 2.13 (Debian 12) and 3.x (Debian 13) under one name. Compare numbers with WithinAbs / WithinRel.
#pragma once

#if __has_include(<catch2/catch_test_macros.hpp>)
#include <catch2/catch_test_macros.hpp>
#include <catch2/generators/catch_generators.hpp>
#include <catch2/generators/catch_generators_range.hpp>
#include <catch2/matchers/catch_matchers.hpp>
#include <catch2/matchers/catch_matchers_floating_point.hpp>
#include <catch2/matchers/catch_matchers_string.hpp>
namespace Catch {
using Matchers::ContainsSubstring;
}
#define INGLE_CONTAINS(text) Catch::Matchers::ContainsSubstring(text)
#else
#include <catch2/catch.hpp>
#define INGLE_CONTAINS(text) Catch::Matchers::Contains(text)
#endif

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
