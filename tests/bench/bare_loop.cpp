// The yardstick of path_bench.py: reads the values of a recording and does one INSERT and one commit each,
// with SQLite's defaults, and nothing else. Prints readings and CPU seconds.
#include <sqlite3.h>

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <string>

int main(int argc, char* argv[]) {
    if (argc != 3) {
        std::fputs("usage: bare_loop RECORDING DATABASE\n", stderr);
        return 2;
    }
    sqlite3* book = nullptr;
    sqlite3_stmt* insert = nullptr;
    if (sqlite3_open(argv[2], &book) != SQLITE_OK ||
        sqlite3_exec(book, "CREATE TABLE readings(ts REAL, probe TEXT, value REAL)", nullptr, nullptr,
                     nullptr) != SQLITE_OK ||
        sqlite3_prepare_v2(book, "INSERT INTO readings VALUES(?, ?, ?)", -1, &insert, nullptr) != SQLITE_OK) {
        std::fprintf(stderr, "%s\n", sqlite3_errmsg(book));
        return 1;
    }
    std::ifstream file(argv[1]);
    std::string line;
    std::getline(file, line);  // header
    long readings = 0;
    auto const began = std::clock();
    while (std::getline(file, line)) {
        char* rest = line.data();
        double const time = std::strtod(rest, &rest);
        for (int probe = 0; *rest == ','; ++probe) {
            ++rest;
            if (*rest == ',' || *rest == '\0') continue;
            double const value = std::strtod(rest, &rest);
            auto const name = "p" + std::to_string(probe + 1);
            sqlite3_bind_double(insert, 1, time);
            sqlite3_bind_text(insert, 2, name.c_str(), -1, SQLITE_TRANSIENT);
            sqlite3_bind_double(insert, 3, value);
            if (sqlite3_step(insert) != SQLITE_DONE) return 1;
            sqlite3_reset(insert);
            ++readings;
        }
    }
    std::printf("%ld %.6f\n", readings, static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC);
    sqlite3_finalize(insert);
    sqlite3_close(book);
    return 0;
}
