// Reference rows for tests: a small CSV reader. Lines that begin with # name the source; then a header line.
#pragma once

#include <fstream>
#include <map>
#include <stdexcept>
#include <string>
#include <vector>

namespace ingle::test {

using Row = std::map<std::string, std::string>;

inline std::vector<std::string> split_csv(std::string const& line) {
    std::vector<std::string> cells(1);
    bool quoted = false;
    for (char c : line) {
        if (c == '"')
            quoted = !quoted;
        else if (c == ',' && !quoted)
            cells.emplace_back();
        else if (c != '\r')
            cells.back() += c;
    }
    return cells;
}

// `path` below tests/, e.g. "reference/sensing/boiling.csv". Throws if the file is not there or has no rows.
inline std::vector<Row> rows(std::string const& path) {
    std::ifstream file(std::string(TEST_DATA "/") + path);
    std::vector<std::string> header;
    std::vector<Row> all;
    for (std::string line; std::getline(file, line);) {
        if (line.empty() || line[0] == '#') continue;
        auto cells = split_csv(line);
        if (header.empty()) {
            header = cells;
            continue;
        }
        Row row;
        for (std::size_t i = 0; i < header.size() && i < cells.size(); ++i) row[header[i]] = cells[i];
        all.push_back(row);
    }
    if (all.empty()) throw std::runtime_error("no rows in " + path);
    return all;
}

inline double number(Row const& row, std::string const& column) {
    return std::stod(row.at(column));
}

}  // namespace ingle::test
