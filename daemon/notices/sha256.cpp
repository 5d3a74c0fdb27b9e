#include "daemon/notices/sha256.hpp"

#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>

namespace ingle {
namespace {

using Word = std::uint32_t;
constexpr std::size_t block_bytes = 64;

// FIPS 180-4, 4.2.2: the first 32 bits of the fractional parts of the cube roots of the first 64 primes.
constexpr std::array<Word, 64> constants{
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

using State = std::array<Word, 8>;
constexpr State first_state{0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                            0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};

Word byte_at(std::string_view bytes, std::size_t at) {
    return static_cast<unsigned char>(bytes[at]);
}

void add_block(State& state, std::string_view block) {
    std::array<Word, 64> w{};
    for (std::size_t i = 0; i < 16; ++i)
        w[i] = byte_at(block, 4 * i) << 24 | byte_at(block, 4 * i + 1) << 16 |
               byte_at(block, 4 * i + 2) << 8 | byte_at(block, 4 * i + 3);
    for (std::size_t i = 16; i < 64; ++i) {
        Word const s0 = std::rotr(w[i - 15], 7) ^ std::rotr(w[i - 15], 18) ^ w[i - 15] >> 3;
        Word const s1 = std::rotr(w[i - 2], 17) ^ std::rotr(w[i - 2], 19) ^ w[i - 2] >> 10;
        w[i] = w[i - 16] + s0 + w[i - 7] + s1;
    }
    auto [a, b, c, d, e, f, g, h] = state;
    for (std::size_t i = 0; i < 64; ++i) {
        Word const s1 = std::rotr(e, 6) ^ std::rotr(e, 11) ^ std::rotr(e, 25);
        Word const t1 = h + s1 + ((e & f) ^ (~e & g)) + constants[i] + w[i];
        Word const s0 = std::rotr(a, 2) ^ std::rotr(a, 13) ^ std::rotr(a, 22);
        Word const t2 = s0 + ((a & b) ^ (a & c) ^ (b & c));
        h = g, g = f, f = e, e = d + t1, d = c, c = b, b = a, a = t1 + t2;
    }
    State const more{a, b, c, d, e, f, g, h};
    for (std::size_t i = 0; i < state.size(); ++i) state[i] += more[i];
}

std::string digest(std::string_view bytes) {
    std::string padded(bytes);
    padded += '\x80';
    while (padded.size() % block_bytes != block_bytes - 8) padded += '\0';
    auto const bits = static_cast<std::uint64_t>(bytes.size()) * 8;
    for (int shift = 56; shift >= 0; shift -= 8) padded += static_cast<char>(bits >> shift & 0xff);
    State state = first_state;
    for (std::size_t at = 0; at < padded.size(); at += block_bytes)
        add_block(state, std::string_view(padded).substr(at, block_bytes));
    std::string out;
    for (Word const word : state)
        for (int shift = 24; shift >= 0; shift -= 8) out += static_cast<char>(word >> shift & 0xff);
    return out;
}

std::string hex(std::string const& bytes) {
    constexpr char digits[] = "0123456789abcdef";
    std::string out;
    for (char const c : bytes) {
        auto const byte = static_cast<unsigned char>(c);
        out += digits[byte >> 4];
        out += digits[byte & 15];
    }
    return out;
}

}  // namespace

std::string sha256_hex(std::string_view bytes) {
    return hex(digest(bytes));
}

std::string hmac_sha256_hex(std::string_view key, std::string_view bytes) {
    std::string block = key.size() > block_bytes ? digest(key) : std::string(key);
    block.resize(block_bytes, '\0');
    std::string inner, outer;
    for (char const c : block) {
        inner += static_cast<char>(c ^ 0x36);
        outer += static_cast<char>(c ^ 0x5c);
    }
    return hex(digest(outer + digest(inner += bytes)));
}

}  // namespace ingle
