#include "config/plain_text.hpp"

#include "tests/support/catch.hpp"

using namespace ingle;

TEST_CASE("what a terminal would obey, and what turns the writing, is not shown") {
    CHECK(plain_text("180 °F, \xE2\x82\xAC 3\n\tsoup") == "180 °F, \xE2\x82\xAC 3\n\tsoup");
    CHECK(plain_text("a\x1b[2Jb\rc\x07\x7f") == "a?[2Jb?c??");
    CHECK(plain_text("\xC2\x9B[2J") == "?[2J");  // CSI as one character
    CHECK(plain_text("soup\xE2\x80\xAE-dlo\xE2\x81\xA6\xE2\x80\x8F\xD8\x9C") == "soup?-dlo???");
    CHECK(plain_text("\xFF\xC0\xAF\xE0\x80\x80\xED\xA0\x80\xF4\x90\x80\x80\xE2\x82") ==
          std::string(8, '?'));  // no UTF-8: overlong, a surrogate, beyond Unicode, cut off
    CHECK(is_plain_text("Gänsebraten 🦆"));
    CHECK_FALSE(is_plain_text(std::string_view("a\0b", 3)));
}

TEST_CASE("a character that is cut off waits for its rest") {
    CHECK(whole_characters("abc") == 3);
    CHECK(whole_characters("") == 0);
    CHECK(whole_characters("a\xC2") == 1);
    CHECK(whole_characters("a\xE2\x82") == 1);
    CHECK(whole_characters("a\xF0\x9F\xA6") == 1);
    CHECK(whole_characters("a\xE2\x82\xAC") == 4);
    CHECK(whole_characters("a\x82\x82\x82\x82") == 5);
}
