// The sections of a kitchen file, one function each, and the names between them. Used by config/load only.
#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/limits.hpp"
#include "config/reader.hpp"
#include "config/settings.hpp"

namespace ingle {

// Each adds what it could read to `loaded.settings` and what is wrong to `loaded.errors`. In this order: a
// vessel refers to probes, a dish to both.
void read_kitchen(Node const& document, Loaded& loaded);
void read_probes(Node::List const& tables, Loaded& loaded);
void read_vessels(Node::List const& tables, Loaded& loaded);
void read_dishes(Node::List const& tables, Loaded& loaded);
void read_channels(Node::List const& tables, Loaded& loaded);

// What a dish and its plan must have in common, once plans are known; fills in the vessels of stages.
void join_plans(Loaded& loaded);

// The name of an entry: [a-z0-9-]+. Also says how its errors begin: "probe.stock" or, unnamed, "probe[2]".
std::string read_name(Reader& reader);
std::string entry_prefix(Node const& table, std::string_view section, std::size_t place);
// An error if this vessel cannot be held at this band (config/limits).
void check_band(Band band, VesselSettings const& vessel, Where const& where, std::string const& key,
                Loaded& loaded);
void check_cooling_rule(Reader& reader, std::string const& rule);

// What to write instead of a name that does not exist.
template <class Entry>
std::string instead_of(std::string_view name, std::vector<Entry> const& entries, std::string_view what) {
    std::vector<std::string_view> names;
    for (auto const& entry : entries) names.push_back(entry.name);
    if (auto const meant = nearest(name, names)) return "did you mean " + in_quotes(*meant) + "?";
    return names.empty() ? "there is no [[" + std::string(what) + "]] in this file"
                         : "write " + listed(names);
}

// The number that `key` refers to by name; -1 if it is absent or there is none of that name (an error).
template <class Entry>
int reference(Reader& reader, std::string_view key, std::vector<Entry> const& entries,
              std::string_view what) {
    auto const name = reader.text(key);
    if (!name) return -1;
    int const number = number_of(entries, *name);
    if (number < 0)
        reader.wrong(key, "there is no " + std::string(what) + " " + in_quotes(*name),
                     instead_of(*name, entries, what));
    return number;
}

template <class Entry>
std::vector<int> references(Reader& reader, std::string_view key, std::vector<Entry> const& entries,
                            std::string_view what) {
    std::vector<int> numbers;
    for (auto const& name : reader.texts(key)) {
        int const number = number_of(entries, name);
        if (number >= 0)
            numbers.push_back(number);
        else
            reader.wrong(key, "there is no " + std::string(what) + " " + in_quotes(name),
                         instead_of(name, entries, what));
    }
    return numbers;
}

// Two entries of one name, also if only the case differs, are an error that names both places.
template <class Entry>
void refuse_doubles(std::vector<Entry> const& entries, std::string_view what,
                    std::vector<ConfigError>& errors) {
    auto const lower = [](std::string text) {
        for (auto& c : text)
            if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
        return text;
    };
    for (std::size_t i = 0; i < entries.size(); ++i)
        for (std::size_t j = 0; j < i; ++j)
            if (!entries[i].name.empty() && lower(entries[i].name) == lower(entries[j].name)) {
                errors.push_back({entries[i].where, std::string(what) + "." + entries[i].name + ".name",
                                  in_quotes(entries[i].name) + " is the name of another " +
                                      std::string(what) + ", in line " +
                                      std::to_string(entries[j].where.line),
                                  "give each its own name"});
                break;
            }
}

}  // namespace ingle
